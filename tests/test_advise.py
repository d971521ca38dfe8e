"""What one more reading would bring, against taking it."""

from fractions import Fraction

import numpy as np
import pytest

from capture.advise import proposals
from capture.measure import measure_wall
from capture.record import PrintRun, Tape
from tests.walls import random_wall

PRINTED = PrintRun()


@pytest.fixture(scope="module")
def made():
    return random_wall(1015, n_tapes=1, n_cards=5, n_photos=2)


@pytest.fixture(scope="module")
def measured(made):
    return measure_wall(made.wall, made.seen, PRINTED)


@pytest.fixture(scope="module")
def proposed(made, measured):
    return proposals(made.wall, measured, ["plate 1", "plate 3"])


def test_readings_from_the_ends_and_closer_photos_are_proposed(proposed):
    whats = [p.what for p in proposed]
    assert "tape the width of wall" not in whats  # no right end is marked on this wall
    for name in ("plate 1", "plate 3"):
        assert f"tape from the left end to {name}" in whats
        assert f"photograph {name} from closer by with the two cards nearest to it" in whats
    assert not any("plate 2" in what for what in whats)


def test_a_tape_brings_exactly_what_was_foretold(made, measured, proposed):
    """The rank-one update against the whole adjustment with the reading in it."""
    for proposal in (p for p in proposed if p.tape and p.tape[0] == "left end"):
        name = proposal.tape[1]
        length = measured.survey.feature(name).across.value
        tape = Tape(start="left end", end=name, along="across", length=Fraction(length).limit_denominator(10**6))
        taken = made.wall.model_copy(update={"tapes": (*made.wall.tapes, tape)})
        after = measure_wall(taken, made.seen, PRINTED).survey
        for feature in after.features:
            foretold = proposal.survey.feature(feature.name)
            if feature.left is not None:
                # Corner noise is estimated anew with one observation more, of hundreds.
                assert foretold.left.sd == pytest.approx(feature.left.sd, rel=0.01)
                assert foretold.left.value == measured.survey.feature(feature.name).left.value


def test_a_reading_makes_nothing_less_sure(measured, proposed):
    for proposal in proposed:
        for before, after in zip(measured.survey.features, proposal.survey.features, strict=True):
            for edge in ("left", "right", "bottom", "top"):
                now, then = getattr(before, edge), getattr(after, edge)
                assert (now is None) == (then is None)
                if now is not None:
                    assert then.sd <= now.sd * (1 + 1e-9)


def test_a_closer_photo_helps_the_thing_it_is_of(measured, proposed):
    (photo,) = [p for p in proposed if p.what.startswith("photograph plate 3")]
    now, then = measured.survey.feature("plate 3"), photo.survey.feature("plate 3")
    # Taken from nearer and with fresh taps: at least as good as averaging the taps anew, which is 1/√(n+1).
    assert then.bottom.sd < now.bottom.sd
    assert then.left.sd < now.left.sd


def test_a_wall_by_tape_alone_is_told_what_to_tape():
    made = random_wall(1015, n_tapes=1, n_cards=5, n_photos=2)
    marks = tuple(m.model_copy(update={"sights": ()}) for m in made.wall.marks)
    tapes = tuple(Tape(start="left end", end=f"plate {n}", along="across", length=Fraction(10 * n)) for n in (1, 2))
    wall = made.wall.model_copy(update={"marks": marks, "tapes": tapes})
    measured = measure_wall(wall, [], PRINTED)
    whats = [p.what for p in proposals(wall, measured, ["plate 1"])]
    assert "tape from the left end to plate 1" not in whats  # taken already
    assert np.isfinite(measured.survey.feature("plate 1").left.sd)
