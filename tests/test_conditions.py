"""The state of the house and its walls: noted, shown, cleared, printed, and refused in a sentence."""

from fractions import Fraction

import pytest

from capture.lengths import Unit
from capture.memory import Memory
from capture.record import Base, Conditions, Kind, Mark, Suspect, Wall, Wiring
from report.conditions import NAMES, NOT_KNOWN, of_house, of_wall
from tests.conftest import WALL
from tests.test_cli import refused
from wainscribe import actions


def told(result) -> dict[str, str]:
    assert result.exit_code == 0, result.output
    return dict(line.split(": ", 1) for line in result.stdout.splitlines())


def test_an_action_notes_a_wall_and_another_the_house(folder):
    actions.set_conditions(folder, WALL, {"flat": "1/8, 6 ft straightedge", "base": "kept"})
    actions.set_conditions(folder, None, {"wiring": "aluminium", "paint": "suspected"})
    job = folder.load()
    own = job.wall(WALL).conditions
    assert (own.flat.off, own.flat.how, own.base) == (Fraction(1, 8), "6 ft straightedge", Base.KEPT)
    assert (job.conditions.wiring, job.conditions.paint) == (Wiring.ALUMINIUM, Suspect.SUSPECTED)
    assert own.wiring is None


def test_what_is_noted_of_the_house_has_no_wall_worked_out_anew_that_nobody_changed(folder):
    class Counted(Memory):
        worked_out = 0

        def once(self, what, work, *content):
            self.worked_out += 1
            return super().once(what, work, *content)

    actions.set_conditions(folder, None, {"casing": "1/2"})
    job, memory = folder.load(), Counted()
    first = actions.solve_job(folder, job, memory=memory)
    assert (looked_up := memory.worked_out) > 0
    again = actions.solve_job(folder, job, memory=memory)
    assert memory.worked_out == looked_up
    assert [one.measured.survey for one in again] == [one.measured.survey for one in first]


def test_what_was_noted_before_stays_and_undo_takes_the_last_back(folder):
    actions.set_conditions(folder, WALL, {"material": "plaster on wood lath"})
    actions.set_conditions(folder, WALL, {"casing": "3/4"})
    assert folder.load().wall(WALL).conditions == Conditions(material="plaster on wood lath", casing="3/4")
    folder.undo()
    assert folder.load().wall(WALL).conditions == Conditions(material="plaster on wood lath")


def test_the_command_notes_shows_and_clears(cli, folder):
    job = folder.path
    assert set(told(cli("conditions", job)).values()) == {"not known"}
    noted = told(cli("conditions", job, WALL, "plumb=3/16, 4 ft level", "compound=found", "not_seen=behind the sofa"))
    assert noted == {
        "plumb": 'out by 3/16" (4 ft level)', "compound": "tested: FOUND", "not_seen": "behind the sofa",
    }  # fmt: skip
    before = folder.load()
    whole = told(cli("conditions", job, WALL))
    assert whole == {**dict.fromkeys(whole, "not known"), **noted}
    assert len(whole) == len(Conditions.model_fields)
    assert folder.load() == before  # showing changes nothing
    assert told(cli("conditions", job, WALL, "compound="))["compound"] == "not known"
    assert told(cli("conditions", job))["compound"] == "not known"  # the house's own, never told


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        pytest.param(["colour=red"], "“colour”", id="no such condition"),
        pytest.param(["base=gone fishing"], "“base” cannot be “gone fishing”", id="no such word"),
        pytest.param(["flat=very"], "“flat", id="no length"),
        pytest.param(["casing=-1/2, by eye"], "“casing” cannot be", id="no plain length"),
        pytest.param(["paint=" + "x" * 500], "“paint” cannot be “xxxxx", id="far too long"),
    ],
)
def test_what_cannot_be_noted_is_refused_in_one_sentence(cli, folder, words, sentence):
    before = folder.load()
    line = refused(cli("conditions", folder.path, WALL, *words))
    assert line.startswith("Error: ")
    assert sentence in line
    assert len(line) < 400
    assert folder.load() == before


def test_a_wall_that_is_not_there_is_named(cli, folder):
    assert "“no such wall”" in refused(cli("conditions", folder.path, "no such wall", "base=kept"))
    assert "“no such wall”" in refused(cli("conditions", folder.path, "no such wall"))


def test_what_nobody_looked_at_is_printed_as_unknown():
    for rows in (of_wall(Wall(name="w"), Conditions(), Unit.INCH), of_house(Conditions(), None, Unit.INCH)):
        assert {row.found for row in rows} == {NOT_KNOWN}
        assert not any(row.known for row in rows)
    assert len(of_wall(Wall(name="w"), Conditions(), Unit.INCH)) == len(NAMES)


def test_a_wall_tells_its_own_state_else_the_houses_else_what_was_marked():
    house = Conditions(material="gypsum board", wiring=Wiring.CONDUIT)
    wall = Wall(
        name="w", bow="3/8", conditions=Conditions(material="brick"),
        marks=(Mark(name="sofa", kind=Kind.IN_FRONT),), note="Damp.",
    )  # fmt: skip
    rows = {row.what: row.found for row in of_wall(wall, house, Unit.INCH)}
    assert rows[NAMES["material"]] == "brick"
    assert rows[NAMES["wiring"]] == "conduit"
    assert rows[NAMES["flat"]] == 'out by 3/8" (long straightedge)'
    assert rows[NAMES["not_seen"]] == "what stands behind: sofa"
    assert rows[NAMES["noted"]] == "Damp."


@pytest.mark.parametrize(
    ("unit", "shown"), [(Unit.INCH, 'out by 1/8" (a string)'), (Unit.MM, "out by 3 mm (a string)")]
)
def test_readings_are_told_in_the_jobs_unit(unit, shown):
    rows = {row.what: row for row in of_wall(Wall(name="w"), Conditions(flat="1/8, a string"), unit)}
    assert rows[NAMES["flat"]].found == shown


def test_a_wall_that_was_found_true_says_so():
    rows = {row.what: row for row in of_wall(Wall(name="w"), Conditions(plumb="0, 4 ft level"), Unit.INCH)}
    assert rows[NAMES["plumb"]] == (NAMES["plumb"], "plumb (4 ft level)", True)
