"""Snapping from the command line and from actions: what is said, what is kept, and the way back."""

import numpy as np
import pytest

from capture.errors import UnknownNameError
from capture.record import At, Kind, Mark, Sight
from tests.conftest import CAMERA, PLACED, WALL
from tests.synthetic import place
from wainscribe import actions

SHEET = np.array([(-4.25, 5.5), (4.25, 5.5), (-4.25, -5.5), (4.25, -5.5)])  # a letter sheet, 8.5 × 11 in


def corners(number: int) -> np.ndarray:
    """True pixels (4, 2) of a card's sheet: top left, top right, bottom left, bottom right."""
    return CAMERA.project(place(PLACED[number], SHEET))


def mark_sheet(cli, job, *more):
    """Card 5's sheet marked by two corners, each off by 5 px across and up (1/3 in)."""
    (a, b), _, _, (c, d) = corners(5)
    taps = ("--top-left", f"{a + 5},{b - 5}", "--bottom-right", f"{c - 5},{d + 5}")
    return cli("mark", job, WALL, "other", "--name", "other 1", "--photo", "wall", *taps, *more)


def sheet_of(folder) -> Mark:
    return next(m for m in folder.load().wall(WALL).marks if m.name == "other 1")


def check_on_edges(mark: Mark) -> None:
    true = dict(zip((At.TOP_LEFT, At.TOP_RIGHT, At.BOTTOM_LEFT, At.BOTTOM_RIGHT), corners(5), strict=True))
    assert {s.at for s in mark.sights} == set(true)
    for sight in mark.sights:
        assert sight.sd is not None
        # 4 sd of a corner from two edges; the camera is solved from three cards near by, so it adds little.
        assert np.hypot(sight.u - true[sight.at][0], sight.v - true[sight.at][1]) < 4 * np.sqrt(2) * sight.sd


def test_snap_moves_a_mark_and_keeps_its_taps(cli, job, folder):
    mark_sheet(cli, job)
    before = sheet_of(folder)
    result = cli("snap", job, WALL, "other 1")
    assert result.exit_code == 0
    assert "other 1 in wall.jpg: on its edges, moved" in result.stdout
    after = sheet_of(folder)
    check_on_edges(after)
    taps = {s.at: s.tap for s in after.sights if s.tap}
    assert taps == {s.at: (s.u, s.v) for s in before.sights}
    cli("undo", job)
    assert sheet_of(folder) == before


def test_mark_snaps_when_asked_and_not_otherwise(cli, job, folder):
    assert "on its edges" not in mark_sheet(cli, job).output
    assert all(s.tap is None for s in sheet_of(folder).sights)
    assert "on its edges" in mark_sheet(cli, job, "--snap").output
    check_on_edges(sheet_of(folder))


def test_a_tap_on_the_bare_wall_stays_and_says_so(cli, job, folder):
    u, v = CAMERA.project(np.array([[45.0, 30.0, 5 / 32]]))[0]
    cli("mark", job, WALL, "receptacle", "--photo", "wall", "--centre", f"{u},{v}")
    result = cli("snap", job, WALL)
    assert "receptacle 1 in wall.jpg: left as tapped." in result.stdout
    assert "the tap stays as it is" in result.stderr
    (sight,) = folder.load().wall(WALL).marks[0].sights
    assert (sight.u, sight.v, sight.sd, sight.tap) == (pytest.approx(u), pytest.approx(v), None, None)
    assert "the tap stays" in sight.doubt


def test_snap_refuses_a_mark_that_is_not_there(cli, job, folder):
    result = cli("snap", job, WALL, "receptacle 9")
    assert result.exit_code == 1
    assert "receptacle 9" in result.stderr
    with pytest.raises(UnknownNameError, match="receptacle 9"):
        actions.snap_marks(folder, WALL, ["receptacle 9"])


def test_what_has_no_edges_is_left_alone(cli, job, folder):
    cli("mark", job, WALL, "damage", "--photo", "wall", "--centre", "700,500")
    before = folder.load()
    assert "no edges to look for" in cli("snap", job, WALL, "damage 1").output
    assert folder.load() == before
    assert "Nothing to snap" in cli("snap", job, WALL).output


def test_other_photos_and_other_marks_stay_as_they_are(cli, job, folder):
    mark_sheet(cli, job)
    other = Mark(name="switch 1", kind=Kind.SWITCH, sights=(Sight(photo="wall.jpg", u=600, v=300),))
    actions.add_mark(folder, WALL, other)
    actions.snap_marks(folder, WALL, ["other 1"])
    assert next(m for m in folder.load().wall(WALL).marks if m.name == "switch 1") == other
