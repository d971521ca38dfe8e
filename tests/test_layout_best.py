"""The proven best: equal to brute force over every spacing that the rules allow."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import product
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from capture.errors import PlainError
from capture.record import Kind
from capture.survey import Feature, WallSurvey
from layout.best import Choice, Wish, wish_groups
from layout.frames import Frame, build_frames
from layout.moves import clear_windows, plate_of
from layout.nudge import Budget
from layout.plan import plan_walls
from layout.rules import RuleError, rules_of
from layout.runs import Run, runs_of
from layout.scheme import Pin, Preference, Scheme
from layout.spacing import Spacing, counts, fixed_count, miss, space
from layout.stakes import Tally, counted
from layout.verdicts import judge
from tests.test_layout_room import box, taped, wall, window

# --- brute force: every count with every shift, judged by the verdicts that people read ---


def ways(run: Run, scheme: Scheme) -> Iterator[Spacing]:
    """Every spacing of a run, the rules about places not yet asked."""
    fixed = fixed_count(run, scheme)
    most = int(scheme.nudge // scheme.step)
    steps = [n * scheme.step for n in range(-most, most + 1)]
    for count in [fixed] if fixed else counts(run, scheme):
        plain = space(run, scheme, count)
        for nudges in product(steps, repeat=count - 1):
            if scheme.mirrored and any(by != -other for by, other in zip(nudges, nudges[::-1], strict=True)):
                continue
            spacing = plain.nudged(nudges)
            if min(spacing.openings(scheme)) >= scheme.least_opening:
                yield spacing


def tally(survey: WallSurvey, frames: Sequence[Frame], scheme: Scheme) -> Tally | None:
    total = Tally()
    for feature in survey.features:
        if feature.blocks:
            pin = scheme.pin(survey.name, feature.name)
            one = counted(judge(feature, frames, scheme).verdict, feature, pin)
            if pin is Pin.MOVE and not reached(feature, survey, frames, scheme):
                one = Tally(conflicts=1, moves=1)
            if one is None:
                return None
            total = total.plus(one)
    return total


def reached(feature: Feature, survey: WallSurvey, frames: Sequence[Frame], scheme: Scheme) -> bool:
    """Whether the frames leave a box that is to be moved a place as far as its cable reaches; exact."""
    slack, plate = feature.mark.cable_slack, plate_of(feature)
    assert plate is not None
    wanted = plate.inset(-scheme.clear(feature.kind))
    if slack is None or not any(frame.rect.overlaps(wanted) for frame in frames):
        return True
    here = (plate.left + plate.right) / 2
    windows = clear_windows(feature, frames, replace(survey, features=()), scheme)
    return any(window.left - here <= slack and here - window.right <= slack for window in windows)


def brute(surveys: Sequence[WallSurvey], scheme: Scheme) -> dict[tuple[Any, ...], set[tuple[int, ...]]]:
    """What each plan comes to, and the counts of those that come to it."""
    plans = []
    for survey in surveys:
        runs = runs_of(survey, scheme)
        rules = rules_of(runs, survey, scheme)
        walls = []
        for spacings in product(*(list(ways(run, scheme)) for run in runs)):
            if any(rules[run.name].missed(one, scheme) for run, one in zip(runs, spacings, strict=True)):
                continue
            found = tally(survey, build_frames(runs, scheme, spacings), scheme)
            if found is not None:
                off = sum(miss(one, run, scheme) for run, one in zip(runs, spacings, strict=True))
                walls.append((spacings, found, off))
        plans.append(walls)
    return _together(plans, scheme)


def _together(plans: Sequence[Any], scheme: Scheme) -> dict[tuple[Any, ...], set[tuple[int, ...]]]:
    found: dict[tuple[Any, ...], set[tuple[int, ...]]] = {}
    for picks in product(*plans):
        spacings = [spacing for wall_spacings, _, _ in picks for spacing in wall_spacings]
        widths = [panel for spacing in spacings for panel in spacing.panels]
        spread = max(widths) - min(widths)
        if scheme.matched and spread > scheme.match_within:
            continue
        values = {
            Preference.CONFLICTS: sum(one.conflicts for _, one, _ in picks),
            Preference.MOVES: sum(one.moves for _, one, _ in picks),
            Preference.DOUBTS: sum(one.doubts for _, one, _ in picks),
            Preference.WIDTH: sum(off for _, _, off in picks),
            Preference.MATCH: spread,
            Preference.NUDGE: sum(abs(by) for spacing in spacings for by in spacing.nudges),
            Preference.PANELS: sum(spacing.count for spacing in spacings),
        }
        vector = tuple(values[one] for one in scheme.order)
        found.setdefault(vector, set()).add(tuple(spacing.count for spacing in spacings))
    return found


def same_as_brute_force(surveys: Sequence[WallSurvey], scheme: Scheme) -> Choice | None:
    """Check the choice and its runner-up against every plan there is; None where there is none."""
    try:
        everything = brute(surveys, scheme)
    except PlainError:
        everything = {}
    if not everything:
        assert any(refused(surveys, scheme))
        return None
    (choice,) = plan_walls(surveys, scheme).choices
    vectors = sorted(everything)
    assert tuple(choice.values.values()) == vectors[0]
    assert choice.proven
    taken = tuple(spacing.count for spacing in choice.spacings.values())
    assert taken in everything[vectors[0]]
    others = [vector for vector in vectors if everything[vector] - {taken}]
    assert (choice.runner_up is None) == (not others)
    if choice.runner_up:
        assert tuple(choice.runner_up.values.values()) == others[0]
        assert tuple(spacing.count for spacing in choice.runner_up.spacings.values()) != taken
    return choice


def refused(surveys: Sequence[WallSurvey], scheme: Scheme) -> list[str]:
    try:
        return [planned.refused for planned in plan_walls(surveys, scheme).walls]
    except PlainError as error:
        return [str(error)]


# --- generated rooms ---

orders = st.permutations(list(Preference)).flatmap(lambda order: st.integers(1, 7).map(lambda n: tuple(order[:n])))
heights = st.sampled_from([7.0, 14.0, 33.0, 46.0])


@st.composite
def walls(draw: st.DrawFn, name: str, most: int = 90) -> WallSurvey:
    width = draw(st.integers(24, most))
    boxes = [
        box(
            f"{name} {i}",
            draw(st.integers(16, width * 16 - 16)) / 16,
            draw(heights),
            draw(st.sampled_from([Kind.RECEPTACLE, Kind.JACK, Kind.REGISTER])),
            width=draw(st.sampled_from([2.75, 4.5625, 12.0])),
            sd=draw(st.sampled_from([0.0, 0.06, 0.3])),
            cable_slack=draw(st.sampled_from([None, Fraction(1), Fraction(5)])),
        )
        for i in range(draw(st.integers(0, 3)))
    ]
    holes = [window("w", width // 3, 2 * width // 3, apron=24)] if draw(st.booleans()) and width > 60 else []
    return wall(*boxes, *holes, width=taped(width, draw(st.sampled_from([0.0, 1 / 32]))), name=name)


@st.composite
def wishes(draw: st.DrawFn) -> Scheme:
    return Scheme(
        panel_width=Fraction(draw(st.integers(12, 30))),
        width_within=Fraction(draw(st.sampled_from([0, 0, 4]))),
        stile=Fraction(draw(st.sampled_from([3, 4]))),
        end_stile=Fraction(draw(st.sampled_from([0, 0, 5]))),
        equal=draw(st.booleans()),
        mirrored=draw(st.booleans()),
        matched=draw(st.booleans()),
        match_within=Fraction(draw(st.integers(1, 12))),
        preferences=draw(orders),
        middle_rail_at=Fraction(draw(st.sampled_from([0, 0, 22]))),
        pins=draw(st.sampled_from([{}, {"a 0": Pin.LEAVE}, {"a 0": Pin.MOVE}, {"a 0": Pin.CLEAR}])),
    )


rooms = st.integers(1, 3).flatmap(lambda n: st.tuples(*(walls(name, 66) for name in "abc"[:n])))


@settings(max_examples=100)
@given(rooms, wishes())
def test_the_best_plan_of_a_room_is_that_of_brute_force(surveys: tuple[WallSurvey, ...], scheme: Scheme) -> None:
    same_as_brute_force(surveys, scheme)


places = st.sampled_from(["centre", "20", "31 1/2", "40"])


@settings(max_examples=100)
@given(walls("a", 48), wishes(), st.lists(places, max_size=1), st.sampled_from([(), ("18 to 24",), ("a 0",)]))
def test_nudged_stiles_are_those_of_brute_force(
    survey: WallSurvey, scheme: Scheme, wanted: list[str], kept: tuple[str, ...]
) -> None:
    assume("a 0" not in kept or any(feature.name == "a 0" for feature in survey.features))
    rules = {"stile_at": {"a": tuple(wanted)}, "no_stile": {"a": kept}} if wanted or kept else {}
    nudged = scheme.model_copy(update={"nudge": Fraction(1, 8), **rules})
    same_as_brute_force((survey,), nudged)


@settings(max_examples=60)
@given(st.tuples(walls("a", 40), walls("b", 30)), wishes())
def test_nudges_and_alike_panels_together_are_those_of_brute_force(
    surveys: tuple[WallSurvey, ...], scheme: Scheme
) -> None:
    same_as_brute_force(surveys, scheme.model_copy(update={"nudge": Fraction(1, 16)}))


@given(walls("a"), wishes(), st.sampled_from([(), ("18 to 24",), ("centre",)]))
def test_every_plan_keeps_its_rules(survey: WallSurvey, scheme: Scheme, kept: tuple[str, ...]) -> None:
    nudged = scheme.model_copy(update={"nudge": Fraction(3, 8), "no_stile": {"a": kept} if kept else {}})
    try:
        (planned,) = plan_walls([survey], nudged).walls
    except PlainError:
        return
    for frame in planned.frames:
        nudges = frame.spacing.nudges
        assert all(abs(by) <= Fraction(3, 8) and by % nudged.step == 0 for by in nudges)
        if nudged.mirrored:
            assert all(by == -other for by, other in zip(nudges, nudges[::-1], strict=True))
        rest = sum(frame.spacing.openings(nudged)) + sum(stile.rect.width for stile in frame.stiles)
        assert rest == frame.run.width
        low, high = (
            {"18 to 24": (18, 24)}.get(kept[0], ((frame.run.left + frame.run.right) / 2,) * 2) if kept else (0, 0)
        )
        assert not kept or all(stile.rect.right <= low or stile.rect.left >= high for stile in frame.stiles)


@pytest.mark.parametrize("nudge", [0, Fraction(1, 16)])
@pytest.mark.parametrize("order", ["conflicts, width", "width, doubts", "match, moves, conflicts"])
def test_runs_that_share_a_thing_are_planned_together(order: str, nudge: Fraction) -> None:
    # A register 12 in wide stands across the two end stiles beside the window and reaches into both runs' panels.
    survey = wall(
        box("register", 30, 14, Kind.REGISTER, 12, 6, sd=0.06), window("w", 30, 62, apron=24), width=taped(92), name="a"
    )
    scheme = Scheme.model_validate({"preferences": order, "nudge": str(nudge), "stile": "3", "panel_width": "10"})
    groups, _ = wish_groups(Wish(survey, runs_of(survey, scheme)), scheme, Budget(0))
    assert [[run.part for run in group.runs] for group in groups] == [["left of w", "under w"], ["right of w"]]
    same_as_brute_force([survey], scheme)


# --- stories ---

# On 60 in, two panels of 24 3/4 have their stile at 28 1/4..31 3/4.
SPLIT = wall(box("r", 28, 14), width=taped(60))


def counts_by(order: str, **wanted: Any) -> tuple[int, ...]:
    (choice,) = plan_walls([SPLIT], Scheme.model_validate({"preferences": order, **wanted})).choices
    return tuple(spacing.count for spacing in choice.spacings.values())


@pytest.mark.parametrize(
    ("order", "wanted", "count"),
    [
        pytest.param("width, conflicts", {}, 2, id="width before all: the box has to give way"),
        pytest.param("conflicts, width", {}, 3, id="nothing in the way, then the width: 15 1/3 is nearer than 53"),
        pytest.param("width, conflicts", {"width_within": "9"}, 3, id="15 1/3 is near enough"),
        pytest.param("conflicts, panels", {}, 1, id="nothing in the way with the fewest panels"),
        pytest.param("conflicts, width", {"pins": {"r": "leave"}}, 2, id="a box that stays is no conflict"),
        pytest.param("conflicts, width", {"pins": {"wall: r": "move"}}, 2, id="nor is one that is moved"),
        pytest.param("width", {"pins": {"r": "clear"}}, 3, id="a box pinned clear rules the others out"),
    ],
)
def test_the_order_of_preferences_decides(order: str, wanted: dict[str, Any], count: int) -> None:
    assert counts_by(order, **wanted) == (count,)


def test_the_runner_up_says_by_what_it_loses() -> None:
    (choice,) = plan_walls([SPLIT], Scheme.model_validate({"preferences": "conflicts, width"})).choices
    assert choice.told(Scheme()) == (
        'Best, what counts most first: 0 to decide, panels off the width wanted by 8 11/16" in all, '
        'stiles shifted by 0" in all, 3 panels. '
        'The runner-up has 1 in place of 3 panels on wall and loses by width: 29" against 8 11/16".'
    )


def test_what_the_whole_room_could_do_instead_is_told() -> None:
    (choice,) = plan_walls([SPLIT, wall(width=taped(100), name="other")], Scheme()).choices
    assert choice.values[Preference.CONFLICTS] == 1
    assert choice.instead is not None
    assert choice.instead.values[Preference.CONFLICTS] == 0
    # Nothing in the way takes 1 or 3 panels, or 6 and more, on the first wall; of all pairs the widths come nearest at
    # 3 of 15 1/3 beside 5 of 15.8.
    assert [spacing.count for spacing in choice.instead.spacings.values()] == [3, 5]
    assert "Least to decide in the whole room, 0, is left by 3 in place of 2 panels on wall" in choice.told(Scheme())
    assert plan_walls([wall(width=taped(60))], Scheme()).choices[0].instead is None


def test_where_only_one_count_is_allowed_there_is_no_runner_up() -> None:
    (choice,) = plan_walls([SPLIT], Scheme(panels={"wall": 2})).choices
    assert choice.runner_up is None
    assert "No other count is allowed." in choice.told(Scheme())


def test_a_stile_gives_way_by_as_little_as_frees_the_box() -> None:
    # The plate's right edge at 27 in reaches the moulding that starts 1 1/8 before the stile: 27 1/8.
    close = wall(box("r", 25.8125, 14, sd=0.0), width=taped(60, 0.0))  # its right edge at 27 3/16: 1/16 over
    (choice,) = plan_walls([close], Scheme.model_validate({"preferences": "width, conflicts", "nudge": "1/4"})).choices
    assert choice.spacings["wall"].nudges == (Fraction(1, 16),)


def test_mirrored_ends_shift_a_pair_of_stiles_against_each_other() -> None:
    # Three panels of 15 1/3: stiles at 18.83 and 37.67; the box touches the moulding before the first, at 17.71.
    close = wall(box("r", 16.375, 14, sd=0.0), width=taped(60, 0.0))  # its right edge at 17 3/4
    wanted = {"preferences": "conflicts", "nudge": "1/4", "mirrored": True, "panels": {"wall": 3}}
    (choice,) = plan_walls([close], Scheme.model_validate(wanted)).choices
    assert choice.spacings["wall"].nudges == (Fraction(1, 16), Fraction(-1, 16))


def test_panels_of_a_room_are_alike_within_the_tolerance() -> None:
    surveys = [wall(width=taped(width), name=f"{width}") for width in (60, 100, 143)]
    scheme = Scheme(matched=True, match_within=Fraction(2))
    (choice,) = plan_walls(surveys, scheme).choices
    widths = [panel for spacing in choice.spacings.values() for panel in spacing.panels]
    assert max(widths) - min(widths) <= 2


def test_panels_that_cannot_be_alike_are_refused_with_the_two_walls_and_by_how_much() -> None:
    surveys = [wall(width=taped(width), name=f"{width}") for width in (60, 40)]
    scheme = Scheme(matched=True, panels={"60": 2, "40": 2})  # 24 3/4 and 14 3/4
    with pytest.raises(PlainError, match='those of “60” and “40” come no nearer than 10", 9 1/2" more; allow more'):
        plan_walls(surveys, scheme)


def test_what_a_limit_leaves_open_is_told() -> None:
    close = wall(box("r", 25.8125, 14, sd=0.0), width=taped(60, 0.0))
    scheme = Scheme.model_validate({"preferences": "width, conflicts", "nudge": "1/4"})
    (choice,) = plan_walls([close], scheme, looks=3).choices
    assert (choice.proven, choice.gap) == (False, (Preference.CONFLICTS, 1))
    assert choice.spacings["wall"].nudges == (0,)
    assert choice.told(scheme).endswith("Not proven: conflicts could be better by 1 at most.")
    assert plan_walls([close], scheme).choices[0].proven


@given(walls("a"), wishes())
def test_a_limit_never_hides_more_than_its_gap(survey: WallSurvey, scheme: Scheme) -> None:
    nudged = scheme.model_copy(update={"nudge": Fraction(1, 8), "matched": False})
    try:
        full, short = (plan_walls([survey], nudged, looks).choices for looks in (100_000, 5))
    except PlainError:
        return
    for whole, cut in zip(full, short, strict=True):
        worse = next((one for one in whole.values if whole.values[one] != cut.values[one]), None)
        if worse is not None:
            assert cut.gap is not None
            preference, most = cut.gap
            assert list(whole.values).index(preference) <= list(whole.values).index(worse)
            assert preference is not worse or cut.values[worse] - whole.values[worse] <= most


def test_rules_that_a_limit_keeps_from_being_looked_into_are_told() -> None:
    wanted = {"nudge": "1/4", "panels": {"wall": 2}, "stile_at": {"wall": ("32",)}}
    (planned,) = plan_walls([wall(width=taped(60))], Scheme.model_validate(wanted), looks=2).walls
    assert 'shifts of up to 1/4" can keep the rules of “wall” takes too long to tell' in planned.refused


# --- rules about places ---


def placed(key: str, *places: str, **wanted: Any) -> list[tuple[Fraction, Fraction]]:
    survey = wall(box("j", 40, 14, Kind.JACK), width=taped(60))
    scheme = Scheme.model_validate({"preferences": "width", key: {"wall": places}, **wanted})
    (planned,) = plan_walls([survey], scheme).walls
    if planned.refused:
        raise RuleError(planned.refused)
    return [(stile.rect.left, stile.rect.right) for stile in planned.frames[0].stiles]


@pytest.mark.parametrize("place", ["centre", "30", "41", "13", "j"])
def test_a_stile_stands_where_it_is_wanted(place: str) -> None:
    at = {"centre": 30, "j": 40}.get(place) or int(place)
    assert any(left <= at <= right for left, right in placed("stile_at", place))


@pytest.mark.parametrize("stretch", ["centre", "28 to 33", "20", "j"])
def test_no_stile_stands_where_none_may(stretch: str) -> None:
    low, high = {"centre": (30, 30), "28 to 33": (28, 33), "20": (20, 20), "j": (38.625, 41.375)}[stretch]
    assert all(right <= low or left >= high for left, right in placed("no_stile", stretch))


def test_a_stile_out_of_reach_gives_way_by_a_nudge() -> None:
    # Two panels have their stile at 28 1/4..31 3/4.
    with pytest.raises(
        RuleError, match=r'No spacing .* stiles as wanted \(at 32\): .* 2 panels, misses by 1/4", and no'
    ):
        placed("stile_at", "32", panels={"wall": 2})
    assert placed("stile_at", "32", panels={"wall": 2}, nudge="1/4")[1] == (Fraction("28.5"), 32)


@pytest.mark.parametrize(
    ("wanted", "sentence"),
    [
        pytest.param(
            {"stile_at": {"wall": ("30",)}, "no_stile": {"wall": ("29 to 33",)}},
            'a stile is wanted at 30 \\(30"\\) and none may stand at 29 to 33 \\(29" to 33"\\), which reaches 1" past',
            id="wanted and forbidden",
        ),
        pytest.param(
            {"stile_at": {"wall": ("80",)}}, "wanted at 80 on “wall”, but no wainscot runs there", id="off it"
        ),
        pytest.param({"stile_at": {"wall": ("door",)}}, "“door” is no place on “wall”: write a length", id="no place"),
        pytest.param({"no_stile": {"wall": ("33 to 29",)}}, "“33 to 29” is no stretch of “wall”", id="wrong way round"),
        pytest.param({"no_stile": {"wall": ("1",)}}, 'none at 1\\).* misses by 1"', id="under an end stile"),
    ],
)
def test_rules_that_cannot_be_kept_are_named(wanted: dict[str, Any], sentence: str) -> None:
    (planned,) = plan_walls([wall(width=taped(60))], Scheme.model_validate(wanted)).walls
    assert re.search(sentence, planned.refused), planned.refused


def test_a_box_that_nothing_can_clear_is_named() -> None:
    on_the_rail = wall(box("r", 16, 2.5, sd=0.0), width=taped(60))
    (planned,) = plan_walls([on_the_rail], Scheme(pins={"r": Pin.CLEAR})).walls
    assert "r on “wall” is pinned to be clear, but stands on rails or end stiles" in planned.refused
    in_the_middle = wall(box("r", 28, 14), width=taped(60))
    (planned,) = plan_walls([in_the_middle], Scheme(pins={"r": Pin.CLEAR}, panels={"wall": 2})).walls
    assert "No spacing of “wall” that its rules allow clears r" in planned.refused
