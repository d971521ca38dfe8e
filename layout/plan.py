"""The plan of a room: every wall's runs, frames, verdicts and remedies.

Walls come in room order, left to right as one stands inside; each inside corner is shared by two of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from capture.errors import PlainError, UnknownNameError
from capture.record import EndKind
from capture.survey import Grade, WallSurvey
from layout.frames import Frame, build_frames
from layout.remedies import Remedy, all_remedies
from layout.runs import Run, split_wall
from layout.scheme import Scheme, check_scheme
from layout.verdicts import Judgement, judge


@dataclass(frozen=True)
class WallPlan:
    """What will be built on one wall."""

    survey: WallSurvey
    runs: tuple[Run, ...]
    frames: tuple[Frame, ...]
    judgements: tuple[Judgement, ...]
    remedies: dict[str, tuple[Remedy, ...]]  # by the name of the feature in the way
    notes: tuple[str, ...]  # what the plan assumes or leaves out
    refused: str = ""  # why nothing can be planned here, in one sentence; "" where it can

    @property
    def name(self) -> str:
        """The wall's name."""
        return self.survey.name

    @property
    def conflicts(self) -> tuple[Judgement, ...]:
        """What is in the way, or may be."""
        return tuple(judgement for judgement in self.judgements if judgement.verdict.conflict)


@dataclass(frozen=True)
class Plan:
    """What will be built in the room."""

    scheme: Scheme
    walls: tuple[WallPlan, ...]

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


def plan_walls(surveys: Sequence[WallSurvey], scheme: Scheme) -> Plan:
    """Plan all walls of a room.

    At an inside corner the wall that comes first in order goes in first; the last wall meets the first one.

    Parameters
    ----------
    surveys
        The walls as they stand, in order round the room.
    scheme
        The sizes wanted.

    Returns
    -------
    Plan
        In wall inches.

    Raises
    ------
    PlainError
        The scheme contradicts itself. A wall that cannot hold a frame, or the panels fixed for it, is not raised:
        its `WallPlan.refused` says why.
    """
    check_scheme(scheme)
    closes = len(surveys) > 1 and surveys[-1].right is surveys[0].left is EndKind.INSIDE_CORNER
    walls = [
        _plan_wall(
            survey,
            scheme,
            left_first=i == 0 or survey.left is not surveys[i - 1].right,
            right_first=i < len(surveys) - 1 or not closes,
        )
        for i, survey in enumerate(surveys)
    ]
    return Plan(scheme, tuple(walls))


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


def _plan_wall(survey: WallSurvey, scheme: Scheme, left_first: bool, right_first: bool) -> WallPlan:
    stop = next((f for f in survey.findings if f.grade is Grade.STOP), None)
    if stop is not None:  # places that nobody can trust are not planned upon
        refused = f"{stop.sentence} {stop.remedy}"
        return WallPlan(survey, (), (), (), {}, (refused,), refused=refused)
    try:
        wall = split_wall(survey, scheme, left_first=left_first, right_first=right_first)
        frames = build_frames(wall.runs, scheme)
    except PlainError as error:  # one wall that cannot be planned keeps the room's other walls from nobody
        return WallPlan(survey, (), (), (), {}, (str(error),), refused=str(error))
    judgements = tuple(judge(feature, frames, scheme) for feature in survey.features if feature.blocks)
    remedies = all_remedies(judgements, frames, survey, scheme)
    return WallPlan(survey, wall.runs, frames, judgements, remedies, wall.notes)
