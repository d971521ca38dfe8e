"""Ends of a run: set-backs, hidden widths, bevels, fillers; the numbers of every corner by plane geometry."""

import math
from dataclasses import replace
from fractions import Fraction

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from capture.errors import PlainError
from capture.lengths import nearest
from capture.record import EndDetail, EndKind, Joint, Side, Wall
from capture.survey import WallSurvey
from layout.corners import check_first, corners_of
from layout.ends import RunEnd, Stop, Turn, end_notes, wall_end
from layout.frames import Role
from layout.plan import plan_walls
from layout.runs import runs_of
from layout.scheme import Scheme
from tests.test_layout_room import casing, wall

SCHEME = Scheme()
FINE = Fraction(1, 64)
INSIDE, OUTSIDE, BULLNOSE = EndKind.INSIDE_CORNER, EndKind.OUTSIDE_CORNER, EndKind.BULLNOSE


def detail(**known: object) -> EndDetail:
    return EndDetail.model_validate(known)


def end_of(kind: EndKind, first: bool = True, scheme: Scheme = SCHEME, **known: object) -> tuple[Fraction, RunEnd]:
    return wall_end(kind, scheme, first, detail(**known))


# --- outside corners against published numbers ---


@pytest.mark.parametrize(
    ("angle", "strips", "bevel"),
    [
        # Three pieces at 22.5° for a rounded square corner: Woodweb, “Baseboard for Bullnose Wall Corners”. The
        # others by A / (2 (n - 1)) with n pieces, elementary geometry.
        pytest.param(90, 1, Fraction("22.5"), id="square, one strip"),
        pytest.param(90, 2, Fraction(15), id="square, two strips"),
        pytest.param(92, 1, Fraction(22), id="measured 92°: turns 88°"),
        pytest.param(88, 1, Fraction(23), id="measured 88°: turns 92°"),
        pytest.param(135, 1, Fraction("11.25"), id="bay corner, one strip"),
        pytest.param(135, 3, Fraction("5.625"), id="bay corner, three strips"),
    ],
)
def test_every_edge_round_a_bullnose_is_bevelled_alike(angle: int, strips: int, bevel: Fraction) -> None:
    _, end = end_of(BULLNOSE, angle=angle, strips=strips, radius="3/4")
    assert end.turn is not None
    assert end.bevel == end.turn.bevel == bevel
    assert 2 * end.turn.joints * bevel == 180 - angle  # all bevels together make the turn


def test_a_bay_corner_is_mitred_at_half_its_turn_and_not_at_half_its_angle() -> None:
    assert end_of(OUTSIDE, angle=135)[1].bevel == Fraction("22.5")  # not 67.5


@pytest.mark.parametrize(
    ("radius", "strips", "heel"),
    [
        # Width at the back 2 R tan h, worked out from R and h = 90 / (2 (n - 1)).
        pytest.param("3/8", 1, 0.3107, id="3/8 round"),
        pytest.param("3/4", 1, 0.6213, id="3/4 round: the trade's 5/8 in strip"),
        pytest.param("1 1/2", 1, 1.2426, id="1 1/2 round"),
        pytest.param("3/4", 2, 0.4019, id="3/4 round, two strips"),
        pytest.param("1 1/2", 2, 0.8038, id="1 1/2 round, two strips"),
    ],
)
def test_strips_have_the_width_of_their_round(radius: str, strips: int, heel: float) -> None:
    turn = end_of(BULLNOSE, radius=radius, strips=strips)[1].turn
    assert turn is not None
    assert float(turn.strip_heel) == pytest.approx(heel, abs=float(FINE))  # two halves, each to 1/64 in
    face = heel + 2 * 0.75 * math.tan(math.radians(turn.bevel))
    assert float(turn.strip_face) == pytest.approx(face, abs=float(FINE))


def test_the_flats_stop_where_the_round_begins() -> None:
    (run,) = runs_of(wall(right=BULLNOSE), SCHEME)
    assert run.right == 120


@pytest.mark.parametrize(
    ("across", "angle", "radius"),
    [
        pytest.param(math.sqrt(2) * 0.75, 90, 0.75, id="chord of a quarter round"),
        pytest.param(2 * 1.5 * math.sin(math.radians(22.5)), 135, 1.5, id="chord of a bay corner"),
    ],
)
def test_a_round_can_be_told_by_its_width_from_flat_to_flat(across: float, angle: int, radius: float) -> None:
    turn = end_of(BULLNOSE, flat_to_flat=nearest(Fraction(across), Fraction(1, 1000)), angle=angle)[1].turn
    assert turn is not None
    assert float(turn.radius) == pytest.approx(radius, abs=float(FINE) / 2 + 0.001)


@given(st.integers(60, 150), st.integers(1, 4), st.fractions(Fraction(1, 4), 3, max_denominator=16))
def test_flats_and_strips_close_round_the_corner_outside_the_round(angle: int, strips: int, radius: Fraction) -> None:
    """The backs of all pieces, drawn with Shapely: tangent to the round, none cutting into it."""
    turn = Turn(Fraction(angle), strips + 1, radius, Fraction(3, 4))
    bevel, reach = math.radians(turn.bevel), math.radians(float(180 - turn.angle))
    heel = float(radius) * math.tan(bevel)
    # Along the first wall to the end of its back, then every strip, each turned by two bevels.
    x, y, heading = heel, 0.0, 0.0
    points = [(-5.0, 0.0), (x, y)]
    for _ in range(strips):
        heading -= 2 * bevel
        x, y = x + 2 * heel * math.cos(heading), y + 2 * heel * math.sin(heading)
        points.append((x, y))
    centre = (0.0, -float(radius))
    # The last back ends a heel before the line where the round ends on the other wall.
    end = (centre[0] + float(radius) * math.sin(reach), centre[1] + float(radius) * math.cos(reach))
    assert math.dist(points[-1], end) == pytest.approx(heel, abs=1e-9)
    assert shapely.LineString(points).distance(shapely.Point(centre)) == pytest.approx(float(radius), abs=1e-9)
    assert float(turn.heel) == pytest.approx(heel, abs=float(FINE) / 2)


# --- square corners ---


def test_a_mitre_reaches_a_thickness_past_the_corner_so_that_the_face_is_whole() -> None:
    inward, end = end_of(OUTSIDE)
    assert (inward, end.bevel, end.beyond) == (Fraction(-3, 4), 45, 0)


def test_of_two_butted_stiles_one_laps_over_the_other_and_both_faces_are_whole() -> None:
    (at, laps), (also, covered) = end_of(OUTSIDE, joint="butted"), end_of(OUTSIDE, False, joint="butted")
    assert at == also == Fraction(-3, 4)
    assert (laps.beyond, covered.beyond) == (0, Fraction(-3, 4))  # the other 3/4 in is the edge of the first
    assert laps.bevel == covered.bevel == 0


@given(st.integers(70, 130))
def test_inside_the_faces_meet_before_both_walls(angle: int) -> None:
    """Where the two planes in front of the walls cross, worked out with lines: a second route to the set-back."""
    inward, end = end_of(INSIDE, angle=angle)
    turn, thick = math.radians(angle), 0.75
    # Wall one runs along x; its face is y = t. Wall two leaves the corner at the angle; its face is moved by t towards
    # wall one: x sin(a) - y cos(a) = t.
    x = (thick + thick * math.cos(turn)) / math.sin(turn)
    assert float(inward) == pytest.approx(x, abs=float(FINE) / 2 + 1e-12)
    assert end.hidden == inward
    assert end_of(INSIDE, False, angle=angle)[1].bevel == 90 - angle


def test_the_second_wall_may_be_eased_behind_its_face() -> None:
    _, end = end_of(INSIDE, False, relief_bevel="yes")
    assert (end.relief, end.bevel, end.hidden) == (5, 0, 0)
    assert "bevelled 0° and 5° of relief" in " ".join(end_notes(end, RunEnd(Stop.OPEN), SCHEME))


def test_what_leans_is_scribed() -> None:
    _, end = end_of(INSIDE, True, out_of_plumb="3/8")
    assert (end.hidden, end.scribe, end.beyond) == (Fraction(3, 4), Fraction(3, 8), Fraction(9, 8))
    assert 'cut 3/8" wider and scribed: the corner there' in " ".join(end_notes(end, RunEnd(Stop.OPEN), SCHEME))


# --- casings ---


def test_a_filler_stands_between_the_frame_and_the_casing_and_is_cut_narrow() -> None:
    scheme = Scheme(filler_width=Fraction(3, 4))
    left, right = runs_of(wall(casing("a", 50, Side.RIGHT), casing("b", 80, Side.LEFT)), scheme)
    assert (left.right, right.left) == (Fraction("49.25"), Fraction("80.75"))
    assert any('filler at the right end is cut 5/8" wide, 1/8" narrow' in note for note in left.notes)
    frame = plan_walls([wall(left=EndKind.CASING)], scheme).walls[0].frames[0]
    (filler,) = [member for member in frame.members if member.role is Role.FILLER]
    assert (filler.name, filler.rect.left, filler.rect.right) == ("left filler", 0, Fraction(3, 4))
    assert frame.rect.left == 0


# --- what is told twice, or cannot be ---


@pytest.mark.parametrize(
    ("kind", "known", "sentence"),
    [
        pytest.param(OUTSIDE, {"radius": "3/4"}, 'square outside corner has no round, but one of 3/4"', id="round"),
        pytest.param(OUTSIDE, {"joint": "butted", "angle": 92}, "is square, but 92° is told, 2° off; mitre", id="butt"),
    ],
)
def test_an_end_that_contradicts_itself_is_refused(kind: EndKind, known: dict[str, object], sentence: str) -> None:
    with pytest.raises(PlainError, match=sentence):
        end_of(kind, True, **known)


@pytest.mark.parametrize(
    ("known", "words"),
    [
        pytest.param({"angle": "20"}, "between 30 and 175 degrees", id="hardly an angle"),
        pytest.param({"angle": "square"}, "in degrees, like 90", id="no number"),
        pytest.param({"strips": 0}, "greater than or equal to 1", id="no strip"),
    ],
)
def test_an_angle_that_no_corner_has_is_refused(known: dict[str, object], words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        detail(**known)


def corner(one: EndDetail, other: EndDetail, kind: EndKind = INSIDE) -> list[WallSurvey]:
    left, right = wall(right=kind, name="a"), wall(left=kind, name="b")
    return [replace(left, right_detail=one), replace(right, left_detail=other)]


def test_what_one_wall_knows_of_a_corner_holds_for_both() -> None:
    left, right = corners_of(corner(detail(angle=92, out_of_plumb="1/4"), detail()), SCHEME)
    assert left.right.angle == right.left.angle == 92
    assert (left.right.out_of_plumb, right.left.out_of_plumb) == (Fraction(1, 4), None)  # of one side only


def test_two_angles_for_one_corner_are_refused() -> None:
    with pytest.raises(PlainError, match="corner of “a” and “b” has two values for its angle, 92 and 90; keep"):
        plan_walls(corner(detail(angle=92), detail(angle=90)), SCHEME)


def test_a_wall_named_goes_in_first() -> None:
    surveys = corner(detail(), detail())
    usual, turned = (plan_walls(surveys, scheme).walls for scheme in (SCHEME, Scheme(goes_first=("b",))))
    hidden = [(walls[0].runs[0].right_hidden, walls[1].runs[0].left_hidden) for walls in (usual, turned)]
    assert hidden == [(Fraction(3, 4), 0), (0, Fraction(3, 4))]
    with pytest.raises(PlainError, match="No wall is called “c”"):
        check_first(Scheme(goes_first=("c",)), ["a", "b"])


def test_the_radius_of_the_wall_is_that_of_an_end_without_its_own() -> None:
    told = Wall(name="w", bullnose_radius=Fraction(3, 8), right_detail=detail(radius="1 1/2"))
    assert told.at_end(Side.LEFT).radius == Fraction(3, 8)
    assert told.at_end(Side.RIGHT).radius == Fraction(3, 2)
    assert Joint.MITRED is told.at_end(Side.LEFT).joint
