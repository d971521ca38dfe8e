"""What the plan notes besides verdicts: windows against rails, floors, joints, and what it takes for granted."""

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.record import Conditions, EndDetail, EndKind, Kind, Mark, Wall
from capture.survey import Feature, WallSurvey
from layout.cutlist import pieces_of
from layout.frames import Role, build_frame
from layout.joints import JointError, rail_joints
from layout.plan import WallPlan, plan_walls
from layout.runs import runs_of
from layout.scheme import Pin, Preference, Scheme
from tests.test_layout_room import box, seen, taped, wall, window


def planned(*features: Feature, scheme: Scheme | None = None, **known: object) -> WallPlan:
    survey = replace(wall(*features, width=taped(120)), **known)  # type: ignore[arg-type]
    return plan_walls([survey], scheme or Scheme()).walls[0]


def floor(name: str, x: float, y: float, sd: float = 0.03) -> Feature:
    return Feature(Mark(name=name, kind=Kind.FLOOR_POINT), seen(x), seen(x), seen(y, sd), seen(y, sd))


@pytest.mark.parametrize(
    ("features", "words"),
    [
        pytest.param(
            [window("w", 40, 70, apron=36.25, bottom=40)],
            ['the wainscot ends 1/4" under the casing of w: let it meet, or lower it'],
            id="a sliver of wall under the apron",
        ),
        pytest.param([window("w", 40, 70, apron=36.5, bottom=40)], [], id="half an inch is clear"),
        pytest.param(
            [window("w", 40, 80, stool=34, apron=30)],
            [
                f'the stool of w, 33 1/4" to 34" high, meets the top rail or cap of wall, {side} of w: cut them'
                for side in ("left", "right")
            ],
            id="stool at the height of the top rail",
        ),
        pytest.param([window("w", 40, 80, stool=28.5, apron=24)], [], id="stool below the top rail"),
        pytest.param([floor("f1", 5, -0.4), floor("f2", 100, 0.1)], ['floor falls 1/2" ± 3/32"'], id="floor falls"),
        pytest.param([floor("f1", 5, -0.02), floor("f2", 100, 0.02)], [], id="level as far as one can tell"),
        pytest.param(
            [box("r", 310, 14)],  # its plate is 2 3/4 wide
            ['r stands 188 5/8" past the right end of the wall: look at its reading again'],
            id="a box of another wall",
        ),
        pytest.param([box("r", -40, 14)], ['r stands 38 5/8" past the left end of the wall'], id="a minus too many"),
        pytest.param([box("r", 121.3, 14)], [], id="a plate that reaches into the wall"),
        pytest.param(
            [box("r", 30, 14), box("s", 30.75, 14)],
            ['r and s overlap by 2": look at their readings again'],
            id="two boxes in one place",
        ),
        pytest.param([box("r", 30, 14), box("s", 32.75, 14)], [], id="two plates that touch"),
        pytest.param([box("r", 30, 14), box("s", 30, 44)], [], id="one box over another"),
    ],
)
def test_what_else_is_found_is_noted(features: list[Feature], words: list[str]) -> None:
    notes = planned(*features).notes
    assert len(notes) == len(words)
    assert all(one in note for one, note in zip(words, notes, strict=True))


def test_a_floor_that_falls_is_taken_up_by_what_stands_on_it() -> None:
    points = floor("f1", 5, -0.4375), floor("f2", 100, 0.125)
    (bare,) = planned(*points).notes
    assert 'the bottom rail and end stiles take it up: cut 7/16" longer at the lowest place, 1/8" off at' in bare
    (based,) = planned(*points, scheme=Scheme(base=Fraction(3))).notes
    assert "the base takes it up" in based


def found(**known: str) -> Conditions:
    return Conditions.model_validate(known)


def test_what_the_conditions_say_of_floor_and_plumb_is_not_taken_for_granted() -> None:
    ends = {"left": EndKind.INSIDE_CORNER, "right": EndKind.INSIDE_CORNER}
    level = planned(conditions=found(level="0, 4 ft level", plumb="0"), **ends)
    assert not any("taken as level" in one or "taken as plumb" in one for one in level.assumed)
    assert level.notes == ()
    off = planned(conditions=found(level="1/2, laser", plumb="3/16"), **ends)
    (note,) = off.notes
    assert note.startswith('the floor is noted 1/2" out of level: the line stays level')
    assert any('noted 3/16" out of plumb' in one and "left end and at the right end" in one for one in off.assumed)


def test_floor_points_say_more_of_a_floor_than_what_was_noted_in_all() -> None:
    (note,) = planned(floor("f1", 5, -0.4), floor("f2", 100, 0.1), conditions=found(level="1")).notes
    assert 'the floor falls 1/2"' in note


@pytest.mark.parametrize(
    ("noted", "words"),
    [
        # The frame is 3/4 in thick.
        ({}, 'stands 1/16" proud of the casing at the right end, taken as 11/16" off the wall, as usual: measure it'),
        ({"casing": "1/2"}, 'stands 1/4" proud of the casing at the right end: return'),
        ({"casing": "3/4"}, ""),
    ],
)
def test_casings_stand_as_proud_as_noted(noted: dict[str, str], words: str) -> None:
    wall_found = Wall.model_validate(
        {"name": "wall", "conditions": noted, "marks": [{"name": "w", "kind": "window"}, {"name": "r", "kind": "jack"}]}
    ).as_found(Conditions())
    (casing, jack) = (mark.projection for mark in wall_found.marks)
    assert casing == wall_found.conditions.casing
    assert jack is None
    plan = planned(right=EndKind.CASING, conditions=wall_found.conditions)
    (run,) = plan.runs
    assert words in " ".join(run.notes)
    assert ("proud" in " ".join(run.notes)) == bool(words)


def test_a_wall_has_the_conditions_of_its_house_where_it_has_none_of_its_own() -> None:
    own = Wall.model_validate({"name": "wall", "conditions": {"level": "1/4"}})
    both = own.as_found(found(level="1", casing="3/4"))
    assert both.conditions == found(level="1/4", casing="3/4")
    assert own.as_found(Conditions()) is own


# --- joints ---


def joints(length: Fraction | int, width: int = 300) -> list[tuple[str, str, Fraction]]:
    scheme = Scheme(stock_length=Fraction(length))
    (run,) = runs_of(wall(width=taped(width)), scheme)
    return [(one.member, one.stile, one.at) for one in rail_joints(build_frame(run, scheme, 10), scheme)]


def test_rails_longer_than_the_stock_are_joined_behind_a_stile() -> None:
    # 300 in in ten panels of 26.15, a stile every 29.65: three lengths each, the longest as short as can be.
    found = joints(144)
    assert {(member, stile) for member, stile, _ in found} == {
        *(("cap", stile) for stile in ("stile 4", "stile 8")),
        *((rail, stile) for rail in ("top rail", "bottom rail") for stile in ("stile 4", "stile 7")),
    }
    assert joints(400) == joints(0) == []


@given(st.integers(60, 200), st.sampled_from([Scheme(), Scheme(base=Fraction(5), middle_rail_at=Fraction(24))]))
def test_the_plan_joins_where_the_cut_list_does(length: int, scheme: Scheme) -> None:
    scheme = scheme.model_copy(update={"stock_length": Fraction(length), "top": Fraction(48)})
    (frame,) = plan_walls([wall(width=taped(300))], scheme).walls[0].frames
    cut = [
        (place.split(",")[0], end.note.removeprefix("joined over "))
        for piece in pieces_of([frame], scheme)
        for place in piece.places
        for end in piece.ends[:1]
        if end.note.startswith("joined over ")
    ]
    planned = [(joint.member, joint.stile) for joint in rail_joints(frame, scheme)]
    assert sorted(cut) == sorted(planned)
    assert all(piece.length <= length for piece in pieces_of([frame], scheme) if " of " in piece.places[0])


@given(st.integers(40, 200))
def test_no_piece_is_longer_than_the_stock_and_no_joint_is_wasted(length: int) -> None:
    scheme = Scheme(stock_length=Fraction(length))
    (run,) = runs_of(wall(width=taped(300)), scheme)
    frame = build_frame(run, scheme, 10)
    rail = next(member for member in frame.members if member.role is Role.TOP_RAIL)
    cuts = [rail.rect.left, *(j.at for j in rail_joints(frame, scheme) if j.member == rail.name), rail.rect.right]
    pieces = [right - left for left, right in pairwise(cuts)]
    assert max(pieces) <= length
    # Fewest: by trying every set of stiles, largest steps first, as dynamic programming does.
    fewest = {rail.rect.left: 0}
    for end in (*frame.middles, rail.rect.right):
        fewest[end] = min(n + 1 for start, n in fewest.items() if 0 < end - start <= length)
    assert len(pieces) == fewest[rail.rect.right]


def test_stock_shorter_than_a_panel_is_refused_by_how_much() -> None:
    scheme = Scheme(stock_length=Fraction(36), panels={"wall": 1})
    # The cap is 61 in without a place for a joint, and a scarf takes 3/4 in of each length.
    words = r'cap of “wall” is 61" long, and two places for a joint lie 61" apart, 25 3/4" more than .* \(35 1/4"\)'
    (run,) = runs_of(wall(width=taped(60)), scheme)
    with pytest.raises(JointError, match=words):
        list(rail_joints(build_frame(run, scheme, 1), scheme))
    assert "two places for a joint lie" in plan_walls([wall(width=taped(60))], scheme).walls[0].refused


# --- what is taken for granted ---


def assumed(*features: Feature, scheme: Scheme | None = None, **known: object) -> str:
    return "\n".join(planned(*features, scheme=scheme, **known).assumed)


INSIDE = EndKind.INSIDE_CORNER
KNOWN = {
    "left": INSIDE,
    "left_detail": EndDetail.model_validate({"angle": 91, "out_of_plumb": "1/8"}),
}


def test_nothing_is_taken_for_granted_in_silence() -> None:
    said = assumed(box("r", 60, 14), left=INSIDE, right=EndKind.BULLNOSE)
    for words in (
        "The corners at the left end and at the right end are taken as square: no angle was measured.",
        "The wall is taken as plumb at the left end and at the right end",
        "At the left end “wall” goes in before the next wall.",
        'The round of the bullnose is taken as 3/4" in radius: measure it.',
        "The floor is taken as level: fewer than two floor points are marked.",
        "How far the cable of r reaches is not known: moves are offered as if it did.",
    ):
        assert words in said


def test_what_was_measured_is_not_taken_for_granted() -> None:
    said = assumed(box("r", 20, 14), floor("f1", 5, 0), floor("f2", 9, 0), **KNOWN)
    assert said == "At the left end “wall” goes in before the next wall."


@pytest.mark.parametrize(
    ("pin", "y", "words"),
    [
        # On 60 in a stile in the middle, from 28 1/4 to 31 3/4: a plate of 2 3/4 at 30 sits whole on it.
        pytest.param(Pin.EXTEND, 30, None, id="an extender for what sits whole"),
        pytest.param(
            Pin.BLOCK_OUT, 30, "be blocked out, as decided, but that does not help there", id="no block for it"
        ),
        pytest.param(Pin.BLOCK_OUT, 32, None, id="a block for what is split"),
        pytest.param(Pin.EXTEND, 32, "get an extender, as decided, but that does not help there", id="none for that"),
        pytest.param(Pin.EXTEND, 16, "as decided, but nothing is in its way where it stands", id="clear"),
        pytest.param(Pin.LEAVE, 16, None, id="a clear one may always stay"),
    ],
)
def test_a_decision_that_does_not_help_is_noted(pin: Pin, y: int, words: str | None) -> None:
    survey = wall(box("r", y, 14, sd=0.01), width=taped(60))
    room = plan_walls([survey], Scheme(pins={"r": pin}, panels={"wall": 2}))
    (plan,), (choice,) = room.walls, room.choices
    told = [note for note in plan.notes if "decided" in note]
    assert len(plan.undecided) == choice.values[Preference.CONFLICTS] == (words is not None and plan.conflicts != ())
    assert len(told) == (words is not None)
    assert all(words in note for note in told if words)
    if told and "help" in told[0]:
        ways = {remedy.kind.value for remedy in plan.remedies["r"]} - {"accept"}
        assert all(way in told[0] for way in ways)


@pytest.mark.parametrize("rule", [{"stile_at": {"wall": ("40",)}}, {"no_stile": {"wall": ("58 to 62",)}}])
def test_a_rule_that_makes_the_count_is_named(rule: dict[str, dict[str, tuple[str, ...]]]) -> None:
    # 120 in: four panels of 25 5/8 come nearest to 27, with a stile in the middle.
    free, ruled = (planned(scheme=Scheme(**known)) for known in ({}, rule))
    assert free.frames[0].count == 4
    count = ruled.frames[0].count
    assert count != 4
    (words,) = next(iter(rule.values())).values()
    (told,) = [one for one in ruled.assumed if "would not stand as told" in one]
    assert f"has {count} panels" in told
    assert 'with 4 panels of 25 5/8"' in told
    assert words[0] in told
    assert not any("as told" in one for one in free.assumed)


@pytest.mark.parametrize(
    ("scheme", "words"),
    [
        pytest.param(Scheme(pins={"r": Pin.LEAVE}), "R: it stays where it is, as decided.", id="pinned"),
        pytest.param(
            Scheme(panels={"wall": 7}),
            # (120 - 8 × 3.5) / 7 = 13 1/7
            'The equal panels of wall are shown as 13 1/8" and 13 3/16", so that the shown pieces add up to the run.',
            id="rounding spread",
        ),
        pytest.param(
            Scheme.model_validate({"nudge": "1/4", "panels": {"wall": 2}, "stile_at": {"wall": ("62",)}}),
            'Stile 2 is shifted 1/4" to the right.',  # from 58 1/4..61 3/4
            id="nudged",
        ),
    ],
)
def test_what_the_plan_decides_is_told(scheme: Scheme, words: str) -> None:
    assert words in assumed(box("r", 60, 14), scheme=scheme)


def test_a_thing_too_close_to_tell_counts_as_in_the_way_and_is_told() -> None:
    survey: WallSurvey = wall(box("r", 25.6875, 14), width=taped(60))
    said = "\n".join(plan_walls([survey], Scheme()).walls[0].assumed)
    # 1/16 in at 0.06 in and the wall's 1/32 in at 27 of 60 in.
    assert (
        "R counts as in the way, being too close to tell at the moulding of panel 1, right: likely (84%) tight" in said
    )


def test_a_heater_is_kept_clear_and_its_maker_decides() -> None:
    heater = box("heater", 60, 5, Kind.HEATER, 40, 7)
    assert "Heater is kept 6\" clear of wood: its maker's instructions decide, look there first." in assumed(heater)
