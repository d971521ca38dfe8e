"""The plan of a room: every wall's runs, frames, verdicts and remedies.

Walls come in room order, left to right as one stands inside; each corner is shared by two of them.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import reduce

from capture.errors import PlainError, UnknownNameError
from capture.survey import Grade, WallSurvey
from layout.assumed import assumptions
from layout.best import Choice, Wish, choose, wish_groups
from layout.checks import wall_checks
from layout.corners import Corners, corners_of
from layout.floorline import FloorLine
from layout.frames import Frame, build_frames
from layout.joints import RailJoint, rail_joints
from layout.moves import Move, decided_moves
from layout.new_places import wanted_places
from layout.nudge import Budget
from layout.options import Group
from layout.remedies import Remedy, all_remedies, in_vain
from layout.runs import Run, WallRuns, split_wall
from layout.scheme import STAY, Scheme, check_scheme
from layout.stakes import Tally
from layout.verdicts import Judgement, judge

LOOKS = 20_000  # looks at things that nudging may take in a room, some seconds' worth


@dataclass(frozen=True)
class WallPlan:
    """What will be built on one wall."""

    survey: WallSurvey
    runs: tuple[Run, ...]
    frames: tuple[Frame, ...]
    judgements: tuple[Judgement, ...]
    remedies: dict[str, tuple[Remedy, ...]]  # by the name of the feature in the way; one that is pinned comes first
    notes: tuple[str, ...]  # what the plan leaves out, and what it found besides
    refused: str = ""  # why nothing can be planned here, in one sentence; "" where it can
    assumed: tuple[str, ...] = ()  # what the plan takes for granted, a sentence each
    joints: tuple[RailJoint, ...] = ()  # where members are joined, once `layout.shop.joined` knows the boards
    moves: dict[str, Move] = field(default_factory=dict)  # of boxes that are pinned to be moved, by name
    stays: tuple[str, ...] = ()  # what is decided to stay where it is, by name
    vain: tuple[str, ...] = ()  # about which something is decided that does not help there, by name
    wanted: dict[str, Fraction] = field(default_factory=dict)  # the place of each box that may move, wall inches

    @property
    def name(self) -> str:
        """The wall's name."""
        return self.survey.name

    @property
    def conflicts(self) -> tuple[Judgement, ...]:
        """What is in the way where it stands now, or may be; whatever is decided about it."""
        return tuple(judgement for judgement in self.judgements if judgement.verdict.conflict)

    @property
    def undecided(self) -> tuple[Judgement, ...]:
        """Of the conflicts those that somebody has to decide; the others stay as decided, or move."""
        return tuple(judgement for judgement in self.conflicts if not self._settled(judgement.feature))

    def wanted_by(self, name: str) -> Fraction | None:
        """How far a box is wanted from where it stands, inches, to the right positive; None where it is not moved."""
        wanted, across = self.wanted.get(name), self.survey.feature(name).across
        return None if wanted is None or across is None else wanted - Fraction(across.value)

    def _settled(self, name: str) -> bool:
        """Whether it is decided, and can be done as far as is known: what finds no place to go to is to decide anew."""
        move = self.moves.get(name)
        return (name in self.stays and name not in self.vain) or (move is not None and not move.past_slack)


@dataclass(frozen=True)
class Plan:
    """What will be built in the room."""

    scheme: Scheme
    walls: tuple[WallPlan, ...]
    choices: tuple[Choice, ...] = ()  # of each room, how its runs are divided and why

    @property
    def conflicts(self) -> tuple[Judgement, ...]:
        """What is in the way, or may be, on all walls."""
        return tuple(judgement for wall in self.walls for judgement in wall.conflicts)

    def wall(self, name: str) -> WallPlan:
        """The plan of the wall of that name; UnknownNameError if there is none."""
        for wall in self.walls:
            if wall.name == name:
                return wall
        raise UnknownNameError("planned wall", name, [wall.name for wall in self.walls])


def plan_walls(surveys: Sequence[WallSurvey], scheme: Scheme, looks: int = LOOKS, only: Collection[str] = ()) -> Plan:
    """Plan all walls of a room.

    At an inside corner the wall that comes first in order goes in first; the last wall meets the first one.

    Parameters
    ----------
    surveys
        The walls as they stand, in order round the room.
    scheme
        The sizes wanted, the rules, and the order of preferences.
    looks
        How much nudging may be looked into before the plan tells what is not proven.
    only
        The walls that are looked at, by name: the others are divided with them, and left out. None is all.

    Returns
    -------
    Plan
        In wall inches.

    Raises
    ------
    PlainError
        The scheme contradicts itself, or its rules cannot be kept in this room. A wall that cannot hold a frame, or
        the panels fixed for it, is not raised: its `WallPlan.refused` says why.
    """
    check_scheme(scheme)
    budget = Budget(looks)
    corners = corners_of(surveys, scheme)
    drafts = [_draft(survey, own, scheme, budget) for survey, own in zip(surveys, corners, strict=True)]
    groups = [group for draft in drafts for group in draft.groups]
    fixed = reduce(Tally.plus, (draft.fixed for draft in drafts), Tally())
    choice = choose(groups, fixed, scheme) if groups else None
    line = FloorLine(surveys)
    wanted = [draft for draft in drafts if not only or draft.survey.name in only]
    walls = [_plan_wall(draft, choice, line, scheme) for draft in wanted]
    return Plan(scheme, tuple(walls), (choice,) if choice else ())


def plan_of(rooms: Sequence[Plan], scheme: Scheme) -> Plan:
    """The plans of rooms as one."""
    walls = tuple(wall for room in rooms for wall in room.walls)
    return Plan(scheme, walls, tuple(choice for room in rooms for choice in room.choices))


def check_counts(plan: Plan) -> None:
    """Refuse fixed panel counts of runs that the plan, of one room or of all, does not have.

    Raises
    ------
    UnknownNameError
        Names the run that is nearest.
    """
    names = [run.name for wall in plan.walls for run in wall.runs]
    for name in plan.scheme.panels:
        if name not in names:
            raise UnknownNameError("run", name, names)


@dataclass(frozen=True)
class _Draft:
    """A wall before its runs are divided."""

    survey: WallSurvey
    corners: Corners
    wall: WallRuns
    groups: tuple[Group, ...]
    fixed: Tally  # what counts whatever the spacing
    refused: str = ""


def _refused(survey: WallSurvey, corners: Corners, why: str) -> _Draft:
    return _Draft(survey, corners, WallRuns((), ()), (), Tally(), why)


def _draft(survey: WallSurvey, corners: Corners, scheme: Scheme, budget: Budget) -> _Draft:
    stop = next((f for f in survey.findings if f.grade is Grade.STOP), None)
    if stop is not None:  # places that nobody can trust are not planned upon
        return _refused(survey, corners, f"{stop.sentence} {stop.remedy}")
    try:
        wall = split_wall(
            survey, scheme, left_first=corners.left.first, right_first=corners.right.first,
            corners=(corners.left.detail, corners.right.detail),
        )  # fmt: skip
        groups, fixed = wish_groups(Wish(survey, wall.runs), scheme, budget)
    except PlainError as error:  # one wall that cannot be planned keeps the room's other walls from nobody
        return _refused(survey, corners, error.told(scheme.unit))
    return _Draft(survey, corners, wall, tuple(groups), fixed)


def _plan_wall(draft: _Draft, choice: Choice | None, line: FloorLine, scheme: Scheme) -> WallPlan:
    survey, runs = draft.survey, draft.wall.runs
    if draft.refused or choice is None:
        return WallPlan(survey, (), (), (), {}, (draft.refused,), refused=draft.refused)
    frames = build_frames(runs, scheme, [choice.spacings[run.name] for run in runs])
    try:
        for frame in frames:
            tuple(rail_joints(frame, scheme))  # the longest board noted must do
    except PlainError as error:
        why = error.told(scheme.unit)
        return WallPlan(survey, (), (), (), {}, (why,), refused=why)
    judgements = tuple(judge(feature, frames, scheme) for feature in survey.features if feature.blocks)
    decided = decided_moves(frames, survey, scheme, line)
    remedies = all_remedies(judgements, frames, survey, scheme, line, decided)
    vain = dict(in_vain(judgements, remedies, survey, scheme))
    notes = (*draft.wall.notes, *decided.notes, *vain.values(), *wall_checks(survey, frames, scheme))
    assumed = tuple(assumptions(survey, frames, judgements, draft.corners, decided.moves, scheme))
    stays = tuple(feature.name for feature in survey.features if scheme.pin(survey.name, feature.name) in STAY)
    wanted = wanted_places(survey, remedies, decided.moves, stays, scheme)
    return WallPlan(
        survey, runs, frames, judgements, remedies, notes, "", assumed, (), decided.moves, stays, tuple(vain), wanted
    )
