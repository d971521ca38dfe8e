"""Turning corners: the tables, the geometry walked round, and what is refused."""

import math
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import LineString, Point

from capture.lengths import nearest
from layout.bevels import FINE, Corner, CornerError, bevel, butt, shown, tangent, turn_of

F = Fraction
DOUBLE = 1e-12  # sums of a few tens of doubles near 1, each good to 1e-16, with room
PRINTED = 5.1e-5  # the tables print four places

turns = st.fractions(min_value=20, max_value=120, max_denominator=10)
thicknesses = st.fractions(min_value=F(1, 4), max_value=2, max_denominator=64)
radii = st.fractions(min_value=F(1, 4), max_value=3, max_denominator=64)


# Each joint turns its share of the corner between two equal bevels, so the table is A / (2 (n - 1)); three pieces at
# 22.5° round a 90° corner are published practice: Woodweb knowledge base, "Baseboard for Bullnose Wall Corners".
@pytest.mark.parametrize(
    ("turn", "angles"),
    [
        (90, (45, 22.5, 15, 11.25)),
        (92, (46, 23, 15.333, 11.5)),
        (88, (44, 22, 14.667, 11)),
        (60, (30, 15, 10, 7.5)),
        (45, (22.5, 11.25, 7.5, 5.625)),
        (30, (15, 7.5, 5, 3.75)),
    ],
)
def test_bevels_share_the_turn_equally(turn: int, angles: tuple[float, ...]) -> None:
    for pieces, angle in enumerate(angles, 2):
        assert float(bevel(F(turn), pieces)) == pytest.approx(angle, abs=5e-4)  # printed to three places
        assert bevel(F(turn), pieces) * 2 * (pieces - 1) == turn


def test_the_angle_read_between_the_walls_is_not_taken_for_the_turn() -> None:
    assert bevel(turn_of(F(135)), 2) == F("22.5")  # not 67.5
    assert "if 135° was read between the walls, the turn is 45°" in Corner(F(135), F(3, 4)).notes()[0]
    assert not Corner(F(90), F(3, 4)).notes()


# For a 90° corner: R, pieces, back width, faces at 1/4, 1/2, 5/8 and 3/4 thick, flat short by, void at the joint.
# Derived by plane geometry from 2 R tan h, 2 (R + t) tan h, R (1 - tan h) and R (1 / cos h - 1); the radii
# are those sold: Walls & Ceilings on corner-bead accessories.
@pytest.mark.parametrize(
    ("radius", "pieces", "heel", "faces", "short", "void"),
    [
        (F(3, 8), 3, 0.3107, (0.5178, 0.7249, 0.8284, 0.9320), 0.2197, 0.0309),
        (F(3, 4), 3, 0.6213, (0.8284, 1.0355, 1.1391, 1.2426), 0.4393, 0.0618),
        (F(3, 2), 3, 1.2426, (1.4497, 1.6569, 1.7604, 1.8640), 0.8787, 0.1236),
        (F(3, 4), 4, 0.4019, (0.5359, 0.6699, 0.7369, 0.8038), 0.5490, 0.0265),
        (F(3, 2), 4, 0.8038, (0.9378, 1.0718, 1.1388, 1.2058), 1.0981, 0.0529),
    ],
)
def test_strips_laid_tangent_to_a_round(
    radius: Fraction, pieces: int, heel: float, faces: tuple[float, ...], short: float, void: float
) -> None:
    for thickness, face in zip((F(1, 4), F(1, 2), F(5, 8), F(3, 4)), faces, strict=True):
        corner = Corner(F(90), thickness, pieces, radius)
        assert float(corner.heel) == pytest.approx(heel, abs=PRINTED)
        assert float(corner.face) == pytest.approx(face, abs=PRINTED)
        assert float(corner.short_of_corner) == pytest.approx(short, abs=PRINTED)
        assert float(corner.void) == pytest.approx(void, abs=PRINTED)
        assert (corner.gap, corner.hollow) == (pytest.approx(0, abs=DOUBLE), 0)


def test_a_five_eighths_strip_turns_the_usual_bullnose() -> None:
    # Common practice, no source: 5/8 in at the heel between four bevels of 22.5°, tangent to a 3/4 in round.
    usual = Corner(F(90), F(3, 4), 3, F(3, 4))
    assert usual.bevel == F("22.5")
    assert shown(usual.heel, F(1, 16)).length == F(5, 8)
    assert float(shown(usual.heel).more) == pytest.approx(0.625 - 2 * 0.75 * (math.sqrt(2) - 1), abs=DOUBLE)
    assert shown(usual.heel).told() == '5/8" (0.0037 over)'


@pytest.mark.parametrize(("radius", "void"), [(F(3, 4), 0.3107), (F(3, 2), 0.6213)])
def test_a_plain_mitre_leaves_a_hole_at_a_round(radius: Fraction, void: float) -> None:
    assert float(Corner(F(90), F(3, 4), 2, radius).void) == pytest.approx(void, abs=PRINTED)  # R (√2 - 1)


# t tan h, derived; the half-degree row: both bevels 45° where the wall turns 91°.
@pytest.mark.parametrize(
    ("thickness", "pieces", "drop"),
    [
        (F(3, 4), 2, 0.750), (F(3, 4), 3, 0.3107), (F(3, 4), 4, 0.2010),
        (F(1, 2), 2, 0.500), (F(1, 2), 3, 0.2071), (F(1, 2), 4, 0.1340),
    ],
)  # fmt: skip
def test_the_heel_lies_behind_the_toe(thickness: Fraction, pieces: int, drop: float) -> None:
    assert float(Corner(F(90), thickness, pieces, F(3, 4)).drop) == pytest.approx(drop, abs=PRINTED)


@pytest.mark.parametrize(("thickness", "opening"), [(F(3, 4), 0.0185), (F(1, 2), 0.0123)])
def test_a_mitre_cut_for_another_turn_opens(thickness: Fraction, opening: float) -> None:
    assert float(Corner(F(91), thickness).opening(F(90))) == pytest.approx(opening, abs=PRINTED)
    assert Corner(F(91), thickness).opening(F(91)) == 0


def test_a_square_mitre_is_exact() -> None:
    corner = Corner(F(90), F(3, 4), behind=F(1, 4))
    assert (corner.back_past, corner.face_past, corner.drop) == (F(1, 4), F(1), F(3, 4))


@given(turns, thicknesses, st.integers(3, 6), radii, st.fractions(0, F(1, 2), max_denominator=16), st.booleans())
def test_the_strips_walked_round_the_corner_end_on_the_other_flat(
    turn: Fraction, thickness: Fraction, pieces: int, radius: Fraction, behind: Fraction, narrower: bool
) -> None:
    tangent_laid = Corner(turn, thickness, pieces, radius, behind)
    corner = Corner(turn, thickness, pieces, radius, behind, tangent_laid.heel * F(2, 3)) if narrower else tangent_laid
    backs = _walk(corner, float(behind), float(corner.back_past), float(corner.heel))
    faces = _walk(corner, float(behind + thickness), float(corner.face_past), float(corner.face))
    for places, off, past in (
        (backs, behind, corner.back_past),
        (faces, behind + thickness, corner.face_past),
    ):
        assert places[-1] == pytest.approx(_on_other_flat(corner, float(off), float(past)), abs=1e-9)
    # Shapely measures what is left between strips and round; the round's centre is the origin.
    strips = LineString(backs).distance(Point(0, 0))
    assert float(corner.gap) == pytest.approx(strips - float(radius), abs=1e-9)
    assert float(corner.void) == pytest.approx(max(math.hypot(*place) for place in backs) - float(radius), abs=1e-9)
    assert corner.hollow == 0


def _walk(corner: Corner, off: float, past: float, side: float) -> list[tuple[float, float]]:
    """From the first flat's end over each strip; the round's centre is the origin, the first wall faces up."""
    x, y, heading = past, float(corner.radius) + off, 0.0
    places = [(x, y)]
    for _ in range(corner.pieces - 2):
        heading -= 2 * math.radians(corner.bevel)
        x, y = x + side * math.cos(heading), y + side * math.sin(heading)
        places.append((x, y))
    return places


def _on_other_flat(corner: Corner, off: float, past: float) -> tuple[float, float]:
    """The same end of the other flat: the first one's mirrored in the bisector."""
    axis = math.pi / 2 - math.radians(corner.turn) / 2
    x, y = past, float(corner.radius) + off
    double = 2 * axis
    return x * math.cos(double) + y * math.sin(double), x * math.sin(double) - y * math.cos(double)


@given(turns, radii, st.integers(3, 6))
def test_strips_between_the_stop_lines_are_the_chords_of_the_round(
    turn: Fraction, radius: Fraction, pieces: int
) -> None:
    thick = Corner(turn, F(20), pieces, radius).at_stop_lines()  # thick enough to be hollowed
    assert float(thick.back_past) == pytest.approx(0, abs=1e-9)
    if pieces == 3:
        half = math.radians(turn) / 2
        assert float(thick.heel) == pytest.approx(2 * float(radius) * math.sin(half), abs=1e-9)
        assert float(thick.hollow) == pytest.approx(float(radius) * (1 - math.cos(half)), abs=2e-9)  # sagitta
    assert thick.hollow > 0
    assert "must be hollowed" in thick.notes()[-1]


@given(turns, radii)
def test_flat_to_flat_is_the_chord(turn: Fraction, radius: Fraction) -> None:
    chord = Fraction(2 * float(radius) * math.sin(math.radians(turn) / 2))
    assert float(Corner.flat_to_flat(chord, turn, F(3, 4)).radius) == pytest.approx(float(radius), rel=1e-12)


@given(st.fractions(1, 89, max_denominator=60))
def test_tangents_agree_with_identities(angle: Fraction) -> None:
    assume(angle != 45)
    assert float(tangent(angle) * tangent(90 - angle)) == pytest.approx(1, rel=1e-12)
    if angle < 44:
        double = 2 * tangent(angle) / (1 - tangent(angle) ** 2)
        assert float(double) == pytest.approx(float(tangent(2 * angle)), rel=1e-12)


def test_no_usual_width_is_near_a_tie_between_marks() -> None:
    # Rounding is right so long as a double's error, some 1e-16, cannot carry a width over the middle between two marks.
    widths = [
        2 * (F(radius, 16) + F(thickness, 16)) * tangent(F(turn, 4 * joints))
        for radius in range(4, 33)
        for thickness in range(0, 17, 2)
        for turn in range(40, 241, 5)
        for joints in (2, 3, 4)
        if F(turn, 4 * joints) != 45
    ]
    nearest_tie = min(abs((width / FINE) % 1 - F(1, 2)) for width in widths)
    assert nearest_tie > 1e-9


@given(st.fractions(0, 10, max_denominator=997))
def test_what_is_shown_tells_its_rounding(length: Fraction) -> None:
    told = shown(length)
    assert told.length - told.more == length
    assert abs(told.more) <= FINE / 2
    assert told.length == nearest(length, FINE)


def test_a_butt_shows_the_same_face_on_both_walls() -> None:
    joint = butt(F(7, 2), F(3, 4), behind=F(1, 4))
    assert joint.lapping == F(7, 2)
    assert joint.lapped + F(3, 4) == F(7, 2)  # the edge of the lapping stile makes up the face
    assert joint.past == Corner(F(90), F(3, 4), behind=F(1, 4)).face_past  # as far out as a mitre's long point


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Corner(F(180), F(3, 4)), "turns more than 0° and less than 180°, not 180°"),
        (lambda: Corner(F(0), F(3, 4)), "not 0°"),
        (lambda: Corner(F(90), F(3, 4), 1), "2 pieces or more, the two flats included, not 1"),
        (lambda: Corner(F(90), F(0)), "a thickness above nothing"),
        (lambda: Corner(F(90), F(3, 4), 2, F(-1)), "a radius of nothing or more"),
        (lambda: Corner(F(90), F(3, 4), 3), '0" wide at its heel cannot be held; mitre a sharp corner'),
        (lambda: Corner(F(90), F(1, 8), 3, F(3, 4), strip=F(1)), 'must be hollowed 3/16" .* it is 1/8" thick'),
        (lambda: Corner.flat_to_flat(F(0), F(90), F(3, 4)), "measure straight across"),
        (lambda: butt(F(7, 2), F(3, 4), F(89)), "this one turns 89°, 1° off; mitre it"),
        (lambda: butt(F(1, 2), F(3, 4)), r'A face of 1/2" is no wider than the stile is thick \(3/4"\), by 1/4"'),
    ],
)
def test_what_cannot_be_turned_is_refused_in_a_sentence(make, words: str) -> None:
    with pytest.raises(CornerError, match=words):
        make()
