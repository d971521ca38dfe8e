"""Verdicts: six words, each told only as far as the measuring bears it."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from capture.lengths import Unit
from capture.measured import Measured, Source
from capture.record import Kind, Mark
from capture.survey import Feature
from layout.chances import chances_of, edge_sds, harmless, plate_box
from layout.frames import Frame, build_frames
from layout.meeting import Box, outline, verdict_at
from layout.runs import runs_of
from layout.scheme import Scheme
from layout.verdicts import Judgement, Verdict, judge
from tests.test_layout_room import box, seen, taped, wall, window

SCHEME = Scheme()
CLEAR, TIGHT, STRIKES, SPLIT, WHOLE, TOO_CLOSE = Verdict


def frames_on(*found: Feature, width: Measured | None = None, scheme: Scheme = SCHEME) -> tuple[Frame, ...]:
    return build_frames(runs_of(wall(*found, width=taped(60, 0.0) if width is None else width), scheme), scheme)


def judged(feature: Feature, *found: Feature, width: Measured | None = None, scheme: Scheme = SCHEME) -> Judgement:
    return judge(feature, frames_on(*found, width=width, scheme=scheme), scheme)


# On 60 in: stiles 0..3.5, 28.25..31.75, 56.5..60; fields 4.625..27.125 and 32.875..55.375, 6.625..30.625 high.
@pytest.mark.parametrize(
    ("x", "y", "verdict"),
    [
        pytest.param(16, 14, CLEAR, id="in the middle of a panel"),
        pytest.param(25.25, 14, CLEAR, id="just the clear field wanted"),  # 27.125 - 0.5 - 1.375
        pytest.param(25.3125, 14, TIGHT, id="a sixteenth less"),
        pytest.param(25.75, 14, TIGHT, id="touching the moulding"),  # 27.125 - 1.375
        pytest.param(25.8125, 14, STRIKES, id="a sixteenth over the moulding"),
        pytest.param(26.875, 14, STRIKES, id="touching the stile"),  # 28.25 - 1.375
        pytest.param(26.9375, 14, SPLIT, id="a sixteenth over the stile"),
        pytest.param(29.5625, 14, SPLIT, id="a sixteenth off the stile"),
        pytest.param(29.625, 14, WHOLE, id="flush with the edge of the stile"),  # 28.25 + 1.375
        pytest.param(30, 14, WHOLE, id="in the middle of the stile"),
        pytest.param(16, 8.875, TIGHT, id="touching the moulding below"),  # 6.625 + 2.25
        pytest.param(16, 7.75, STRIKES, id="touching the bottom rail"),  # 5.5 + 2.25
        pytest.param(16, 5, SPLIT, id="across the edge of the bottom rail"),
        pytest.param(16, 2.5, WHOLE, id="on the bottom rail"),
        pytest.param(29, 2.5, WHOLE, id="on the bottom rail below a stile"),
        pytest.param(16, 34, SPLIT, id="half on the top rail, half on the cap"),
        pytest.param(30, 34, SPLIT, id="over a stile, half on the cap"),
        pytest.param(16, 37, SPLIT, id="half above the cap"),
        pytest.param(16, 38.25, TIGHT, id="standing on the cap"),  # 36 + 2.25
        pytest.param(16, 38.75, CLEAR, id="half an inch above the cap"),
        pytest.param(61.375, 14, TIGHT, id="against the open end"),  # 60 + 1.375
        pytest.param(61, 14, SPLIT, id="half past the open end"),
        pytest.param(70, 14, CLEAR, id="past the end"),
    ],
)
def test_a_plate_at_a_known_place_meets_the_frame_in_one_way(x: float, y: float, verdict: Verdict) -> None:
    judgement = judged(box("receptacle", x, y, sd=0.0))
    assert (judgement.verdict, judgement.probability) == (verdict, pytest.approx(1))


def test_a_plate_on_the_stiles_of_two_frames_side_by_side_sits_whole() -> None:
    found = window("w", 20, 45, apron=24)
    assert judged(box("receptacle", 20, 14, sd=0.0), found).verdict is WHOLE  # end stiles 16.5..20 and 20..23.5


def test_whole_across_two_frames_is_measured_to_the_outer_edge_of_both() -> None:
    judgement = judged(box("receptacle", 20.5, 14, sd=0.0), window("w", 20, 45, apron=24))
    assert judgement.clearance == pytest.approx(23.5 - 20.5 - 1.375)


def test_a_thing_just_off_the_wood_may_still_sit_on_it() -> None:
    judgement = judged(box("jack", 60.2, 14, width=0.2, height=0.2, sd=1.5))
    assert (judgement.verdict, judgement.against) == (TOO_CLOSE, "stile 3")
    assert "past the edge of stile 3" in judgement.sentence


def test_a_plate_between_the_runs_beside_a_window_is_clear_of_them() -> None:
    assert judged(box("jack", 30, 30, sd=0.0), window("w", 15, 45, apron=24)).verdict is CLEAR


@pytest.mark.parametrize(
    ("feature", "clearance", "sd"),
    [
        pytest.param(box("a", 25.67, 14), 27.125 - 25.67 - 1.375, 0.06, id="gap to the moulding"),
        pytest.param(box("a", 26.25, 14), 27.125 - 26.25 - 1.375, 0.06, id="overlap of the moulding"),
        pytest.param(box("a", 27.5, 14), 28.25 - 27.5 - 1.375, 0.06, id="overlap of the stile"),
        pytest.param(box("a", 29.75, 14), 29.75 - 1.375 - 28.25, 0.06, id="how far inside the stile"),
        pytest.param(box("a", 16, 45), 45 - 2.25 - 36, 0.06, id="height above the cap"),
        pytest.param(box("a", 16, 14), 14 - 2.25 - 6.625, 0.06, id="height above the moulding below"),
    ],
)
def test_the_clearance_is_from_the_edge_in_question(feature: Feature, clearance: float, sd: float) -> None:
    judgement = judged(feature)
    assert judgement.clearance == pytest.approx(clearance)
    assert judgement.sd == pytest.approx(sd)


def test_the_error_of_the_wall_adds_to_that_of_the_box() -> None:
    judgement = judged(box("a", 25.67, 14, sd=0.03), width=taped(60, 0.08))
    # The plate's right edge stands at 27.045 / 60 of the wall, and the wall's error grows from its left end.
    assert judgement.sd == pytest.approx(np.hypot(0.03, 0.08 * 27.045 / 60))


@pytest.mark.parametrize(
    ("x", "sd", "verdict", "likeliest"),
    [
        # One side of the 95 % interval is 1.96 sd: touching at 25.75, so 0.1 in away with sd 0.0508 is 1.97 sd.
        pytest.param(25.65, 0.1 / 1.97, TIGHT, TIGHT, id="1.97 sd from the moulding is plain"),
        pytest.param(25.65, 0.1 / 1.95, TOO_CLOSE, TIGHT, id="1.95 sd is not"),
        pytest.param(25.85, 0.1 / 1.95, TOO_CLOSE, STRIKES, id="nor is 1.95 sd over it"),
        pytest.param(25.25, 0.06, TIGHT, TIGHT, id="doubt between clear and tight is told as tight"),
        pytest.param(26.9, 0.06, SPLIT, SPLIT, id="doubt between striking and split is told as it lies"),
        pytest.param(29.6, 0.06, TOO_CLOSE, SPLIT, id="whole or split matters"),
        pytest.param(29.7, 0.06, TOO_CLOSE, WHOLE, id="and the other way round"),
        pytest.param(16, 0.06, CLEAR, CLEAR, id="far from everything"),
    ],
)
def test_doubt_is_told_where_it_matters(x: float, sd: float, verdict: Verdict, likeliest: Verdict) -> None:
    judgement = judged(box("receptacle", x, 14, sd=sd))
    assert (judgement.verdict, judgement.likeliest) == (verdict, likeliest)


@given(st.floats(-5, 65), st.floats(0, 45), st.floats(0, 2), st.floats(0, 2))
def test_chances_add_up_to_one(x: float, y: float, sd: float, wall_sd: float) -> None:
    judgement = judged(box("a", x, y, sd=sd), width=seen(60, wall_sd))
    assert sum(chance for _, chance in judgement.chances) == pytest.approx(1, abs=1e-9)
    assert judgement.probability <= 1 + 1e-9


# --- an independent judge: areas of shapely polygons ---


def polygon(bounds: Sequence[float]) -> shapely.Polygon:
    return shapely.box(*bounds)


def overlap(one: shapely.Geometry, other: shapely.Geometry) -> bool:
    return bool(one.intersection(other).area > 1e-9)


def within(one: shapely.Geometry, other: shapely.Geometry) -> bool:
    return bool(one.difference(other).area < 1e-9)


class ByAreas:
    """The frame as polygons: what a plate overlaps decides."""

    def __init__(self, run: Sequence[float], openings: Sequence[Sequence[float]], scheme: Scheme) -> None:
        border, head, base = float(scheme.border), float(scheme.cap + scheme.ledge), float(scheme.base)
        self.all = polygon(run)
        self.openings = [polygon(opening) for opening in openings]
        self.fields = [opening.buffer(-border, join_style="mitre") for opening in self.openings]
        # The base is one plane with the frame only where it is as thick.
        foot = 0.0 if scheme.base_thickness == scheme.build_up else base
        flat = polygon((run[0], run[1] + foot, run[2], run[3] - head))
        self.flat_wood = flat.difference(shapely.union_all(self.openings))
        self.clear = float(scheme.plate_clear)

    def verdict(self, plate: shapely.Polygon) -> Verdict:
        wider = plate.buffer(self.clear, join_style="mitre")
        if not overlap(plate, self.all):
            return TIGHT if overlap(wider, self.all) else CLEAR
        for opening, field in zip(self.openings, self.fields, strict=True):
            if within(plate, field):
                return CLEAR if within(wider, field) else TIGHT
            if within(plate, opening):
                return STRIKES
        return WHOLE if within(plate, self.flat_wood) else SPLIT


def by_areas(frame: Frame, scheme: Scheme) -> ByAreas:
    return ByAreas(Box.of(frame.rect), [Box.of(panel.opening) for panel in frame.panels], scheme)


thirty_seconds = st.integers(-200, 2200).map(lambda n: n / 32)


@settings(max_examples=200)
@given(
    thirty_seconds,
    thirty_seconds,
    st.integers(30, 300).map(lambda n: n / 32),
    st.integers(30, 200).map(lambda n: n / 32),
    st.sampled_from(
        [
            SCHEME,
            Scheme(moulding=Fraction(0)),
            Scheme(stile=Fraction(5), bottom_rail=Fraction(8)),
            Scheme(top=Fraction(60), middle_rail_at=Fraction(36), ledge=Fraction(1), end_stile=Fraction(5)),
            Scheme(base=Fraction(4), base_thickness=Fraction(9, 16)),
            Scheme(base=Fraction(4), middle_rail_at=Fraction(24), equal=False, panel_width=Fraction(20)),
        ]
    ),
)
def test_exact_verdicts_agree_with_areas(x: float, y: float, width: float, height: float, scheme: Scheme) -> None:
    (frame,) = frames_on(scheme=scheme)
    plate = Box(x, y, x + width, y + height)
    assert verdict_at(plate, [outline(frame)], 0.5) is by_areas(frame, scheme).verdict(polygon(plate))


@settings(max_examples=60)
@given(thirty_seconds, thirty_seconds)
def test_with_hardly_any_doubt_the_verdict_is_the_exact_one(x: float, y: float) -> None:
    (frame,) = frames_on()
    plate = Box(x - 1.375, y - 2.25, x + 1.375, y + 2.25)
    assume(all(abs(way) > 1e-6 for way in _ways(plate, frame)))  # a plate that just touches is a matter of a hair
    judgement = judge(box("a", x, y, sd=1e-8), [frame], SCHEME)
    assert judgement.verdict is by_areas(frame, SCHEME).verdict(polygon(plate))


def _ways(plate: Box, frame: Frame) -> list[float]:
    whole = outline(frame)
    boxes = (whole.whole, whole.plane, *whole.openings, *whole.fields)
    return [way + by for one in boxes for way in (*one.gaps(plate), *one.room(plate)) for by in (-0.5, 0, 0.5)]


doubt = st.tuples(st.just(0.0), st.just(0.0)) | st.tuples(st.floats(1e-3, 2), st.floats(0, 2))


@settings(max_examples=200)
@given(
    thirty_seconds,
    thirty_seconds,
    doubt,
    st.sampled_from([SCHEME, Scheme(top=Fraction(60), middle_rail_at=Fraction(36)), Scheme(base=Fraction(4))]),
)
def test_the_quick_look_agrees_with_the_long_one(x: float, y: float, sds: tuple[float, float], scheme: Scheme) -> None:
    (frame,) = frames_on(width=seen(60, sds[1]), scheme=scheme)
    feature = box("a", x, y, sd=sds[0])
    plate, of_edges = plate_box(feature), edge_sds(feature, frame.run)
    assert plate is not None
    long = chances_of(plate, of_edges, [outline(frame)], 0.5)
    # The long look counts what is less than 1e-9 in off as touching: with 1e-3 in of doubt that is at most 4e-7 an
    # edge, for the normal density is 0.4 at its highest, and four edges count.
    quick = harmless(plate, of_edges, outline(frame))
    assert quick == pytest.approx(long[CLEAR] + long[TIGHT], abs=2e-6)


DRAWS = 1200


@pytest.mark.parametrize(
    ("x", "y", "sd", "wall_sd"),
    [
        pytest.param(25.67, 14, 0.06, 0.10, id="tight or struck"),
        pytest.param(29.65, 14, 0.05, 0.30, id="whole or split"),
        pytest.param(25.2, 14, 0.10, 0.05, id="clear or tight"),
        pytest.param(26.9, 7.8, 0.10, 0.10, id="moulding or wood, across and up"),
        pytest.param(16.0, 38.3, 0.15, 0.0, id="above the cap or on it"),
        pytest.param(27.5, 9.0, 0.80, 0.30, id="anything"),
    ],
)
def test_chances_agree_with_simulated_walls(x: float, y: float, sd: float, wall_sd: float) -> None:
    """Walls set out anew between their true ends, plates where they truly stand, judged by areas."""
    rng = np.random.default_rng(20250731)
    frames = frames_on(width=seen(60, wall_sd))
    stiles = [Box.of(stile.rect) for stile in frames[0].stiles]
    openings = [Box.of(panel.opening) for panel in frames[0].panels]
    seen_verdicts: Counter[Verdict] = Counter()
    for across, up, end in rng.normal(0, (sd, sd, wall_sd), (DRAWS, 3)):
        # The right end truly stands `end` further: stiles keep their width and spread evenly.
        shift = [end * stile.left / stiles[-1].left for stile in stiles]
        moved = [
            opening._replace(left=opening.left + shift[i], right=opening.right + shift[i + 1])
            for i, opening in enumerate(openings)
        ]
        judge_of_areas = ByAreas((0.0, 0.0, 60 + end, 36.0), moved, SCHEME)
        plate = polygon((x + across - 1.375, y + up - 2.25, x + across + 1.375, y + up + 2.25))
        seen_verdicts[judge_of_areas.verdict(plate)] += 1
    for verdict, chance in judge(box("a", x, y, sd=sd), frames, SCHEME).chances:
        # Binomial: 4 standard deviations (one in 16,000 a comparison) and one draw.
        bound = 4 * np.sqrt(chance * (1 - chance) / DRAWS) + 1 / DRAWS
        assert abs(seen_verdicts[verdict] / DRAWS - chance) <= bound, verdict


# --- what is said ---


@pytest.mark.parametrize(
    ("feature", "sentence"),
    [
        pytest.param(
            box("receptacle 2", 16, 14),
            'Receptacle 2 is clear: 5 1/8" ± 1/8" from the moulding of panel 1, bottom.',
            id="clear",
        ),
        pytest.param(
            box("receptacle 2", 25.4375, 14),
            'Receptacle 2 is tight: 5/16" ± 1/8" from the moulding of panel 1, right, and 1/2" is wanted.',
            id="tight",
        ),
        pytest.param(
            box("receptacle 2", 26.25, 14),
            'Receptacle 2 strikes the moulding of panel 1, right: 1/2" ± 1/8" over it.',
            id="strikes",
        ),
        pytest.param(
            box("receptacle 2", 28, 14),
            'Receptacle 2 is split by stile 2: 1 1/8" ± 1/8" of it on the wood.',
            id="split",
        ),
        pytest.param(
            box("receptacle 2", 30, 14), 'Receptacle 2 sits whole on stile 2: 3/8" ± 1/8" inside its edge.', id="whole"
        ),
        pytest.param(
            box("receptacle 2", 25.6875, 14),
            # 1/16 in at sd 0.06: probability 0.85
            'Receptacle 2 is too close to tell: 1/16" ± 1/8" from the moulding of panel 1, right; likely (85%): tight.',
            id="too close to tell",
        ),
        pytest.param(
            box("receptacle 2", 25.8, 14),
            'Receptacle 2 is too close to tell: 1/16" ± 1/8" over the moulding of panel 1, right; '
            "likely (80%): strikes the moulding.",  # 0.05 in at sd 0.06
            id="likely struck",
        ),
        pytest.param(
            box("receptacle 2", 29.6, 14, sd=0.2),
            # 0.025 in short of sitting whole, and 0.75 in to the stile's other edge
            'Receptacle 2 is too close to tell: 0" ± 13/32" past the edge of stile 2; likely (55%): split by a member.',
            id="likely split",
        ),
        pytest.param(
            box("receptacle 2", 29.7, 14, sd=0.2),
            'Receptacle 2 is too close to tell: 1/16" ± 13/32" inside the edge of stile 2; '
            "likely (65%): sits whole on a member.",
            id="likely whole",
        ),
    ],
)
def test_every_verdict_is_one_plain_sentence(feature: Feature, sentence: str) -> None:
    assert judged(feature).sentence == sentence


METRIC = Scheme(unit=Unit.MM)


def test_a_metric_plan_speaks_millimetres_throughout() -> None:
    judgement = judged(box("r", 25.7, 14), scheme=METRIC)
    # 0.05 in is 1.27 mm; 1.96 × 0.06 in is 2.99 mm
    assert judgement.sentence == (
        "R is too close to tell: 1 mm ± 3 mm from the moulding of panel 1, right; likely (80%): tight."
    )
    assert judgement.tape_this == "tape from the left end to r, to 1 mm"


@pytest.mark.parametrize(
    ("feature", "width", "reading"),
    [
        pytest.param(box("r", 25.7, 14), taped(60), "tape from the left end to r, to 1/16", id="across"),
        pytest.param(box("r", 16, 8.9), taped(60), "tape from the floor to r, to 1/16", id="up"),
        pytest.param(box("r", 25.7, 14), seen(60, 0.5), "tape the width of wall, to 1/16", id="the wall is worse"),
        pytest.param(
            box("r", 25.75, 14, sd=1 / 32),
            taped(60),
            "mark the moulding of panel 1, right on the wall and hold the plate of r against it",
            id="taped already",
        ),
        pytest.param(box("r", 16, 14), taped(60), None, id="nothing to settle"),
    ],
)
def test_the_reading_that_would_settle_it_is_proposed(feature: Feature, width: Measured, reading: str | None) -> None:
    assert judged(feature, width=width).tape_this == reading


@pytest.mark.parametrize(
    ("x", "side"),
    [
        pytest.param(34, "right", id="beside the window"),  # touching the moulding at 35.375
        pytest.param(46, "left", id="under it"),  # touching the moulding at 44.625
    ],
)
def test_where_a_window_is_unsure_its_casing_is_taped(x: float, side: str) -> None:
    unsure = replace(window("w", 40, 80, apron=24), left=seen(40, 0.5), right=seen(80, 0.5))
    part = {"right": "left of w", "left": "under w"}[side]
    reading = judged(box("r", x, 14, sd=0.03), unsure, width=taped(120)).tape_this
    assert reading == f"tape from the left end to the casing at the {side} of wall, {part}, to 1/16"


def test_the_proposed_reading_would_settle_a_gap_of_a_sixteenth() -> None:
    # 1.96 × 1/32 = 0.0613 < 1/16
    assert judged(box("r", 25.6875, 14, sd=1 / 32)).verdict is TIGHT


@pytest.mark.parametrize(
    ("edges", "lacks"),
    [
        pytest.param((seen(10), seen(13), None, None), "bottom and top are", id="no height"),
        pytest.param((None, seen(13), seen(10), seen(14)), "left is", id="no left edge"),
    ],
)
def test_a_box_that_is_not_measured_is_not_judged(edges: tuple[Measured | None, ...], lacks: str) -> None:
    judgement = judged(Feature(Mark(name="jack 1", kind=Kind.JACK), *edges))
    assert (judgement.verdict, judgement.clearance, judgement.sd) == (TOO_CLOSE, None, None)
    assert judgement.sentence == (
        f"Jack 1 cannot be judged: its {lacks} not measured; mark its opposite corners, or tape it."
    )
    assert judgement.tape_this == f"tape jack 1: its {lacks.rpartition(' ')[0]}"


SHEET = Scheme(panel="sheet")


@pytest.mark.parametrize(
    ("feature", "scheme", "said"),
    [
        pytest.param(box("r", 16, 14), SCHEME, [], id="nothing to add in a painted panel"),
        pytest.param(box("r", 16, 14), SHEET, ['the face comes forward 1/4": a box in wood'], id="a sheet"),
        pytest.param(box("r", 30, 14), SCHEME, ['the face comes forward 3/4": a box in wood'], id="whole on a stile"),
        pytest.param(box("r", 30, 14), SHEET, ['the face comes forward 1": a box in wood'], id="stile over a sheet"),
        pytest.param(
            box("r", 28, 14), SCHEME, ["half on stile 2: a plate has to seat on one plane", "forward"], id="half on it"
        ),
        pytest.param(
            box("s", 16, 46, Kind.SWITCH), SHEET, ['s stays above the cap, by 7 3/4"'], id="switch above the cap"
        ),
        pytest.param(box("t", 16, 60, Kind.THERMOSTAT), SCHEME, ["t stays above the cap"], id="thermostat"),
        pytest.param(
            box("g", 16, 6.75, Kind.REGISTER, 12, 6), SCHEME, ["the bottom rail is cut by g"], id="register in the rail"
        ),
        pytest.param(box("g", 16, 14, Kind.REGISTER, 12, 6), SHEET, [], id="register in the panel"),
        pytest.param(box("g", 28, 14, Kind.REGISTER, 12, 6), SCHEME, [], id="register over a stile"),
    ],
)
def test_a_careful_carpenter_adds(feature: Feature, scheme: Scheme, said: list[str]) -> None:
    judgement = judged(feature, scheme=scheme)
    assert len(judgement.also) == len(said)
    assert all(words in told for words, told in zip(said, judgement.also, strict=True))


@pytest.mark.parametrize(
    ("kind", "x", "verdict"),
    [
        pytest.param(Kind.RECEPTACLE, 25.0, CLEAR, id="a plate keeps half an inch"),
        pytest.param(Kind.HEATER, 25.0, TIGHT, id="a heater six"),
        pytest.param(Kind.REGISTER, 24.0, TIGHT, id="a register two where so wanted"),
    ],
)
def test_each_kind_keeps_its_own_clear_field(kind: Kind, x: float, verdict: Verdict) -> None:
    scheme = Scheme(register_clear=Fraction(2))
    assert judged(box("r", x, 17, kind, sd=0.0), scheme=scheme).verdict is verdict


def test_electrical_advice_defers_to_the_local_code() -> None:
    advice = judged(box("r", 28, 14)).also
    assert len(advice) == 2
    assert all("or the locally adopted equivalent" in told for told in advice)


def test_an_usual_size_is_judged_with_its_own_doubt() -> None:
    usual = [Measured(value, 0.2, Source.USUAL) for value in (24.3, 27.05, 11.75, 16.25)]
    assert judged(Feature(Mark(name="r", kind=Kind.RECEPTACLE), *usual)).verdict is TOO_CLOSE
