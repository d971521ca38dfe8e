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
from capture.survey import Corner as SeenCorner
from capture.survey import WallSurvey
from layout.bevels import Corner
from layout.corners import check_first, corners_of
from layout.ends import RunEnd, Stop, end_notes, wall_end
from layout.frames import Role
from layout.plan import plan_walls
from layout.runs import runs_of
from layout.scheme import Scheme
from tests.test_layout_room import casing, taped, wall

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
    assert end.corner is not None
    assert end.bevel == end.corner.bevel == bevel
    assert 2 * (end.corner.pieces - 1) * bevel == 180 - angle  # all bevels together make the turn


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
    corner = end_of(BULLNOSE, radius=radius, strips=strips)[1].corner
    assert corner is not None
    assert float(corner.heel) == pytest.approx(heel, abs=5.1e-5)  # printed to four places
    assert float(corner.face) == pytest.approx(heel + 2 * 0.75 * math.tan(math.radians(corner.bevel)), abs=5.1e-5)


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
    corner = end_of(BULLNOSE, flat_to_flat=nearest(Fraction(across), Fraction(1, 1000)), angle=angle)[1].corner
    assert corner is not None
    assert float(corner.radius) == pytest.approx(radius, abs=float(FINE) / 2 + 0.001)


@given(st.integers(60, 150), st.integers(1, 4), st.fractions(Fraction(1, 4), 3, max_denominator=16))
def test_a_flat_passes_its_line_by_what_the_corner_says(angle: int, strips: int, radius: Fraction) -> None:
    """`test_layout_bevels` walks every corner round; here the end takes over just what that corner gives."""
    at, end = end_of(BULLNOSE, angle=angle, strips=strips, radius=str(radius))
    assert end.corner == Corner(Fraction(180 - angle), SCHEME.thickness, strips + 2, radius)
    assert at == 0
    assert float(end.beyond) == pytest.approx(float(end.corner.face_past), abs=float(FINE) / 2)


# --- square corners ---


def test_a_mitre_reaches_a_thickness_past_the_corner_so_that_the_face_is_whole() -> None:
    inward, end = end_of(OUTSIDE)
    assert (inward, end.bevel, end.beyond) == (Fraction(-3, 4), 45, 0)


def test_of_two_butted_stiles_one_laps_over_the_other_and_both_faces_are_whole() -> None:
    (at, laps), (also, covered) = end_of(OUTSIDE, joint="butted"), end_of(OUTSIDE, False, joint="butted")
    assert at == also == Fraction(-3, 4)
    assert (laps.beyond, covered.beyond) == (0, Fraction(-3, 4))  # the other 3/4 in is the edge of the first
    assert laps.bevel == covered.bevel == 0


@given(st.integers(60, 150), st.sampled_from([Scheme(), Scheme(panel="sheet")]))
def test_inside_the_stiles_meet_face_to_face_before_both_walls(angle: int, scheme: Scheme) -> None:
    """Both end stiles drawn in plan with Shapely: neither in a wall nor in the other, their faces meet in a line."""
    (at, first), (also, second) = (end_of(INSIDE, one, scheme, angle=angle) for one in (True, False))
    turn, depth, back = math.radians(angle), float(scheme.build_up), float(scheme.build_up - scheme.thickness)
    # The corner is the origin; wall one runs along x, wall two leaves at the angle; the room lies between them.
    along, out = (math.cos(turn), math.sin(turn)), (math.sin(turn), -math.cos(turn))

    def on_two(x: float, y: float) -> tuple[float, float]:
        return x * along[0] + y * out[0], x * along[1] + y * out[1]

    start = float(at - first.hidden)
    one = shapely.Polygon([(start, back), (9, back), (9, depth), (start, depth)])
    heel = float(also) + float(scheme.thickness) * math.tan(math.radians(float(second.bevel)))
    two = shapely.Polygon([on_two(*p) for p in ((heel, back), (9, back), (9, depth), (float(also), depth))])
    behind_two = shapely.Polygon([on_two(*p) for p in ((-9, 0), (20, 0), (20, -20), (-9, -20))])
    slip = 2 * (float(FINE) / 2) * 2 * depth  # two set-backs, half a 64th off each, along edges of 2 depths at most
    assert one.intersection(behind_two).area < slip
    assert two.intersection(shapely.box(-20, -20, 20, 0)).area < slip
    assert one.intersection(two).area < slip
    assert math.dist((float(at), depth), on_two(float(also), depth)) < 2 * float(FINE)
    # The second's edge lies in the plane of the first's face, all of it.
    assert on_two(heel, back)[1] == pytest.approx(depth, abs=2 * float(FINE))


def test_an_acute_corner_leaves_the_first_stile_less_room_and_the_second_a_longer_back() -> None:
    _, first = end_of(INSIDE, angle=80)
    assert float(first.hidden) == pytest.approx(0.75 / math.sin(math.radians(80)), abs=float(FINE))
    assert end_of(INSIDE, False, angle=80)[1].bevel == -10
    assert end_of(INSIDE, False, angle=100)[1].bevel == 10


def test_the_second_wall_may_be_eased_behind_its_face() -> None:
    _, end = end_of(INSIDE, False, relief_bevel="yes")
    assert (end.relief, end.bevel, end.edge, end.hidden) == (5, 0, 5, 0)
    said = " ".join(end_notes(end, RunEnd(Stop.OPEN), SCHEME))
    assert "bevelled 5°, 5° of it relief, its face the longer side" in said
    _, eased = end_of(INSIDE, False, relief_bevel="yes", angle=88)
    assert (eased.bevel, eased.edge) == (-2, 3)


@given(st.sampled_from([Scheme(), Scheme(panel="sheet")]), st.sampled_from(["3 1/2", "2"]))
def test_a_butted_corner_shows_the_same_face_on_both_walls(scheme: Scheme, stile: str) -> None:
    scheme = Scheme.model_validate({**scheme.model_dump(), "stile": stile})
    (_, laps), (at, covered) = (end_of(OUTSIDE, first, scheme, joint="butted") for first in (True, False))
    # The lapping stile's back lies as far out as the sheet is thick; the other starts there, past the corner.
    assert at + covered.covered == -(scheme.build_up - scheme.thickness)
    assert covered.covered == scheme.thickness
    assert laps.covered == 0


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
        pytest.param(
            OUTSIDE,
            {"joint": "butted", "angle": 92},
            "corner that turns 90°, and this one turns 88°, 2° off; mitre",
            id="butt",
        ),
        pytest.param(
            INSIDE, {"out_of_plumb": "4"}, 'is told to be 4" out of plumb, .* shows 3 1/2", 1/2" less', id="lean"
        ),
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
    assert left.right.detail.angle == right.left.detail.angle == 92
    plumb = left.right.detail.out_of_plumb, right.left.detail.out_of_plumb
    assert plumb == (Fraction(1, 4), None)  # of one side only


@pytest.mark.parametrize(
    ("turn", "sd", "noted", "angle", "words"),
    [
        pytest.param(45.23, 0.3, None, "134.8", "taken as photos show it, 134.8° ± 0.6°: measure it before", id="bay"),
        pytest.param(90.9, 0.6, None, None, "is taken as square: photos show 89.1° ± 1.2°.", id="as good as square"),
        pytest.param(88.0, 0.3, None, "92", "taken as photos show it, 92.0° ± 0.6°", id="odd"),
        pytest.param(88.0, 0.3, 92, "92", None, id="noted, and photos agree"),
        pytest.param(
            88.0, 0.3, 90, "90", "taken as 90°, as noted, but photos show 92.0° ± 0.6°: measure again", id="not"
        ),
    ],
)
def test_a_corner_seen_in_photos_is_taken_where_nobody_noted_its_angle(
    turn: float, sd: float, noted: int | None, angle: str | None, words: str | None
) -> None:
    left, right = corner(detail() if noted is None else detail(angle=noted), detail())
    left = replace(left, corner=SeenCorner("b", turn, sd, taped(0)))
    plan = plan_walls([left, right], SCHEME)
    one, other = plan.walls[0].runs[0].right_end, plan.walls[1].runs[0].left_end
    assert one.angle == other.angle == (90 if angle is None else Fraction(angle))
    for planned in plan.walls:  # both walls of the corner are told
        said = [sentence for sentence in planned.assumed if "photos show" in sentence]
        assert len(said) == (words is not None)
        assert words is None or words in said[0]
        assert not any("no angle was measured" in sentence for sentence in planned.assumed)


def test_a_corner_seen_of_another_pair_of_walls_is_not_taken() -> None:
    left, right = corner(detail(), detail())
    plan = plan_walls([replace(left, corner=SeenCorner("c", 45, 0.1, taped(0))), right], SCHEME)
    assert plan.walls[0].runs[0].right_end.angle == 90


def test_two_neighbours_cannot_both_go_in_first() -> None:
    with pytest.raises(
        PlainError, match=r"“a” and “b” are both to go in before their neighbours.* name one of the two"
    ):
        plan_walls(corner(detail(), detail()), Scheme(goes_first=("a", "b")))


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


def test_the_radius_of_a_wall_with_one_bullnose_is_that_of_the_bullnose() -> None:
    told = Wall(name="w", left=EndKind.OUTSIDE_CORNER, right=EndKind.BULLNOSE, bullnose_radius=Fraction(3, 4))
    assert told.at_end(Side.LEFT).radius is None
    assert told.at_end(Side.RIGHT).radius == Fraction(3, 4)
