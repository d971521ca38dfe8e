"""The shop from the command line; and every JSON answer judged by its published schema."""

import itertools
import json
import re

import pytest
from jsonschema import Draft202012Validator

from tests.conftest import WALL
from wainscribe.folder import JobFolder
from wainscribe.schema import NAMES, schema_of


@pytest.fixture
def taped(cli, job):
    """A wall of 100 in by tape alone, with a receptacle in the way."""
    cli("wall", job, WALL, "--width", "100")
    cli("mark", job, WALL, "receptacle", "--name", "r", "--across", "28", "--up", "14")
    return job


def yard_of(job):
    return JobFolder(job).load().yard


def test_the_yard_is_noted_shown_and_cleared(cli, taped):
    typed = ["board.1 x 4=8 ft, 12 ft", "price.1 x 4=1.85/ft", "kerf=3/32", "waste=15%", "least=board feet"]
    shown = cli("yard", taped, *typed).stdout.splitlines()
    assert shown == [
        "board.1 x 4: 8 ft, 12 ft", "price.1 x 4: 1.85/ft", 'kerf: 3/32"', "waste: 15%", "least: board feet",
    ]  # fmt: skip
    back = cli("yard", taped, "board.1 x 4=", "kerf=", "waste=", "least=").stdout.splitlines()
    assert back == [
        "boards, mouldings, sheets: as usual", "board.1 x 4: not noted", 'kerf: 1/8"', "waste: 10%", "least: boards",
        "price.1 x 4: not noted",
    ]  # fmt: skip
    assert yard_of(taped) == type(yard_of(taped))()


@pytest.mark.parametrize(
    ("note", "sentence"),
    [
        ("bord.x=8 ft", "No note about the yard is called “bord.x”"),
        ("board.=8 ft", "wants a name of 1 to 80 letters"),
        (f"board.{'n' * 500}=8 ft", "wants a name of 1 to 80 letters"),
        ("board.1 x 4=8", "for feet write 8 ft"),
        ("kerf=2 ft", "“kerf” cannot be “2 ft”: must be less than a foot"),
        ("waste=lots", "“waste” cannot be “lots”: is so much in a hundred"),
        ("price.oak=2/ft", "A price is noted for “oak”"),
        ("least=fun", "“least” cannot be “fun”"),
    ],
)
def test_a_note_that_cannot_be_is_refused_in_one_sentence(cli, taped, note, sentence):
    before = yard_of(taped)
    refused = cli("yard", taped, note)
    assert refused.exit_code == 1
    assert sentence in refused.stderr
    assert len(refused.stderr.strip().splitlines()) == 1
    assert yard_of(taped) == before


def test_cuts_tells_the_list_the_setting_out_and_what_to_buy(cli, taped):
    told = cli("cuts", taped).stdout
    for part in ("top rail: 1 of", "running dimensions", "order of work", "take-off", "to buy", "proven the least"):
        assert part in told


def test_equal_pieces_that_follow_one_another_on_a_board_are_one_line(cli, taped):
    told = cli("cuts", taped).stdout.split("\nto buy\n")[1]
    data = json.loads(cli("cuts", taped, "--json").stdout)
    cuts = [
        [cut["piece"] for lane in board["lanes"] for cut in lane["cuts"]]
        for packing in data["packings"] for board in packing["boards"]
    ]  # fmt: skip
    lines = re.findall(r"^  (?:strip \d+, )?at .*: (?:(\d+) [a-z ]+?, (?:(\d+) of )?)?", told, re.MULTILINE)
    assert sum(int(count or 1) for piece, count in lines if piece) == sum(map(len, cuts))
    assert any(int(count or 1) > 2 for _, count in lines)
    assert max(len(list(alike)) for cut in cuts for _, alike in itertools.groupby(cut)) > 2
    assert len([piece for piece, _ in lines if piece]) < sum(map(len, cuts))


def test_stock_that_is_too_short_is_one_sentence_when_all_else_is_told(cli, taped):
    cli("yard", taped, "board.1 x 4=3 ft", "board.1 x 6=3 ft", "board.1 x 2=16 ft")
    short = cli("cuts", taped)
    assert short.exit_code == 1
    assert len([line for line in short.stderr.splitlines() if line.startswith("Error")]) == 1
    assert "running dimensions" in short.stdout


@pytest.mark.parametrize("name", NAMES)
def test_every_schema_is_a_sound_one_and_is_printed(cli, name):
    printed = json.loads(cli("schema", name).stdout)
    Draft202012Validator.check_schema(printed)
    assert printed == json.loads(json.dumps(schema_of(name)))


@pytest.mark.parametrize("name", ["plan", "cuts", "solve", "next"])
def test_what_is_answered_agrees_with_its_schema(cli, taped, name):
    answer = json.loads(cli(name, taped, "--json").stdout)
    assert list(Draft202012Validator(schema_of(name)).iter_errors(answer)) == []


@pytest.mark.parametrize("name", ["plan", "cuts"])
def test_a_refused_wall_agrees_too(cli, taped, name):
    cli("wall", taped, "stub", "--width", "4")
    answer = json.loads(cli(name, taped, "--json").stdout)
    assert list(Draft202012Validator(schema_of(name)).iter_errors(answer)) == []
    assert "stub" in json.dumps(answer)


def test_the_job_file_agrees_with_its_own(cli, taped):
    cli("yard", taped, "board.1 x 4=8 ft", "waste=5%")
    data = json.loads((taped / "job.json").read_text())
    assert list(Draft202012Validator(schema_of("job")).iter_errors(data)) == []


def test_running_dimensions_of_the_plan_are_those_of_the_cuts(cli, taped):
    plan = json.loads(cli("plan", taped, "--json").stdout)
    cuts = json.loads(cli("cuts", taped, "--json").stdout)
    of_plan = {run["name"]: run["stiles"] for wall in plan["walls"] for run in wall["runs"]}
    of_cuts = {
        run["run"]: [{"name": s["name"], "left": s["shown_left"], "right": s["shown_right"]} for s in run["stiles"]]
        for run in cuts["set_out"]
    }
    assert of_plan == of_cuts
