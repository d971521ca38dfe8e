"""What to do next: the reading, photo or card that would settle the most undecided verdicts."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from capture.advise import Proposal
from capture.lengths import Unit, show_spread
from capture.measured import Measured
from capture.survey import Feature, WallSurvey
from layout.frames import Frame
from layout.plan import WallPlan
from layout.scheme import Scheme
from layout.verdicts import SURE, Judgement, Verdict, judge

MOST_STEPS = 5
WORTH = 0.75  # of the present plus-or-minus: a step that settles nothing must bring at least this


@dataclass(frozen=True)
class Step:
    """One thing to do, and what it would bring."""

    wall: str
    what: str  # such as “tape from the left end to receptacle 3”
    settles: tuple[str, ...]  # names of what would no longer be too close to tell, were it measured as it is now
    about: str  # the feature whose plus-or-minus is told
    before: float  # in, half the 95 % interval of its clearance
    after: float

    def told(self, unit: Unit = Unit.INCH) -> str:
        """In one line."""
        gain = f"{show_spread(self.before, unit)} becomes {show_spread(self.after, unit)}"
        about = "" if self.what.endswith(self.about) else f" for {self.about}"
        settles = f"; likely settles {' and '.join(self.settles)}" if self.settles else ""
        return f"{self.what}: {gain}{about}{settles}"


def undecided(plan: WallPlan) -> list[str]:
    """Features too close to tell, though they were measured, and about which nobody decided anything yet."""
    return [j.feature for j in plan.undecided if j.verdict is Verdict.TOO_CLOSE and j.sd]


def next_steps(plan: WallPlan, offered: Iterable[Proposal], scheme: Scheme) -> list[Step]:
    """The steps worth most, each counted after those before it; readings before photos where they bring as much.

    Parameters
    ----------
    plan
        The wall as planned.
    offered
        What could be done, with the plus-or-minus that each would leave.
    scheme
        The sizes wanted.
    """
    names = undecided(plan)
    open_yet = {j.feature: j for j in plan.judgements if j.feature in names}
    tried = [(p, _judged(plan, p.survey, list(open_yet), scheme)) for p in offered]
    steps: list[Step] = []
    while open_yet and tried and len(steps) < MOST_STEPS:
        proposal, after = max(tried, key=lambda one: _worth(open_yet, *one))
        step = _step(plan.name, proposal, open_yet, after)
        if step is None:
            break
        steps.append(step)
        for name in step.settles or (step.about,):
            open_yet.pop(name, None)
    return steps


def _worth(open_yet: dict[str, Judgement], proposal: Proposal, after: dict[str, Judgement]) -> tuple[int, bool, float]:
    """How many verdicts it settles; a reading is quicker than a photo; how much surer the best of them becomes."""
    gains = [now.sd / then.sd for name, now in open_yet.items() if (then := after[name]).sd and now.sd]
    return len(_settled(open_yet, after)), proposal.tape is not None, max(gains, default=0.0)


def _settled(open_yet: Iterable[str], after: dict[str, Judgement]) -> tuple[str, ...]:
    return tuple(name for name in open_yet if after[name].verdict is not Verdict.TOO_CLOSE)


def _step(wall: str, proposal: Proposal, open_yet: dict[str, Judgement], after: dict[str, Judgement]) -> Step | None:
    settles = _settled(open_yet, after)
    sure = [(after[n].sd or 0.0) / (now.sd or 1.0) for n, now in open_yet.items()]
    about = list(open_yet)[sure.index(min(sure))]
    if not settles and min(sure) > WORTH:
        return None
    before, then = open_yet[about].sd or 0.0, after[about].sd or 0.0
    return Step(wall, proposal.what, settles, about, SURE * before, SURE * then)


def _judged(plan: WallPlan, survey: WallSurvey, names: Sequence[str], scheme: Scheme) -> dict[str, Judgement]:
    """The verdicts of the same frames, were everything as sure as the survey has it."""
    surer = _surer(plan.survey, survey)
    frames = [_frame(frame, surer) for frame in plan.frames]
    return {name: judge(survey.feature(name), frames, scheme) for name in names}


def _surer(before: WallSurvey, after: WallSurvey) -> dict[Measured, Measured]:
    """What frames stop at, as it is, and as sure as it would be."""
    pairs = [(before.width, after.width)]
    for now, then in zip(before.features, after.features, strict=True):
        pairs += zip(_places(now), _places(then), strict=True)
    return {a: b for a, b in pairs if a and b}


def _places(feature: Feature) -> tuple[Measured | None, ...]:
    return (
        feature.left, feature.right, feature.across, feature.bottom, feature.top, feature.stool, feature.apron
    )  # fmt: skip


def _frame(frame: Frame, surer: dict[Measured, Measured]) -> Frame:
    def then(at: Measured | None) -> Measured | None:
        return at and surer.get(at, at)

    run = frame.run
    left, right = (replace(end, at=then(end.at)) for end in (run.left_end, run.right_end))
    return replace(
        frame,
        run=replace(run, left_end=left, right_end=right, top_at=then(run.top_at), bottom_at=then(run.bottom_at)),
    )
