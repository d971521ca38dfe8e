"""Figures of the planning core: ``python -m tests.bench_plan`` prints them; nothing here can fail a test."""

import random
import shutil
import time
from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import partial
from math import hypot
from pathlib import Path
from tempfile import TemporaryDirectory

from capture.measured import sd_of
from capture.record import EndKind, Kind
from capture.survey import WallSurvey
from layout.best import Wish, choose, wish_groups
from layout.nudge import Budget
from layout.plan import LOOKS, plan_walls
from layout.runs import runs_of
from layout.scheme import Scheme
from layout.stakes import Tally
from tests.test_layout_room import box, taped, wall
from wainscribe import actions
from wainscribe.demo import demo_source
from wainscribe.folder import JobFolder

Table = list[tuple[str, ...]]
INDEPENDENCE = "Standard deviations of clearances on the demo's walls, and what they would be of independent edges"
TITLE = "Choosing the best spacing and its runner-up, one room of so many runs; processor seconds"
ORDERS = {
    "width first (as it comes)": Scheme(),
    "conflicts first": Scheme.model_validate({"preferences": "conflicts, moves, width, match"}),
    "alike panels first": Scheme.model_validate({"preferences": "match, conflicts, moves, width"}),
    "alike within 3 in, by rule": Scheme(matched=True, match_within=Fraction(3)),
    "conflicts first, shifts of 1/4": Scheme.model_validate({"preferences": "conflicts, moves, width", "nudge": "1/4"}),
}


def house(runs: int, seed: int = 0) -> list[WallSurvey]:
    """Invented walls of one run each, 3 to 18 ft, with a receptacle every 6 ft or so and a register on every fourth."""
    rng = random.Random(seed)
    walls = []
    for n in range(runs):
        width = rng.randint(36 * 16, 216 * 16) / 16
        things = [
            box(f"receptacle {n} {i}", rng.uniform(6, width - 6), 14, sd=0.06) for i in range(1 + int(width // 72))
        ]
        if n % 4 == 0:
            things.append(box(f"register {n}", width / 2, 7, Kind.REGISTER, 12, 6))
        walls.append(
            wall(*things, width=taped(width), left=EndKind.INSIDE_CORNER, right=EndKind.INSIDE_CORNER, name=f"wall {n}")
        )
    return walls


def times(counts: tuple[int, ...] = (1, 10, 40)) -> Table:
    """Processor seconds to choose the spacing of so many runs in one room, and to plan all of it."""
    table: Table = [("preferences", *(f"{n} runs" for n in counts), f"proven at {counts[-1]}")]
    for name, scheme in ORDERS.items():
        spent = [_spent(partial(_choose, house(n), scheme)) for n in counts]
        table.append((name, *spent, str(_choose(house(counts[-1]), scheme))))
    spent = [_spent(partial(plan_walls, house(n), Scheme())) for n in counts]
    return [*table, ("whole plan with verdicts and remedies", *spent, "")]


def _spent(work: Callable[[], object], times: int = 3) -> str:
    """Processor seconds, the least of some tries."""
    spent = []
    for _ in range(times):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return f"{min(spent):.3f} s"


def _choose(surveys: list[WallSurvey], scheme: Scheme) -> bool:
    budget, groups, fixed = Budget(LOOKS), [], Tally()
    for survey in surveys:
        own, more = wish_groups(Wish(survey, runs_of(survey, scheme)), scheme, budget)
        groups += own
        fixed = fixed.plus(more)
    return choose(groups, fixed, scheme).proven


def independence() -> Table:
    """The standard deviation of plates' edges against members spread over the wall: as independent, and jointly.

    The same walls of the demo with their tape readings and without any.
    """
    table: Table = [("demo", "edge", "as independent, in", "by the joint covariance, as verdicts take it, in")]
    with TemporaryDirectory() as folder:
        shutil.copytree(demo_source(), Path(folder) / "job")
        job_folder = JobFolder(Path(folder) / "job")
        job = job_folder.load()
        bare = [
            room.model_copy(update={"walls": tuple(w.model_copy(update=NO_TAPES) for w in room.walls)})
            for room in job.rooms
        ]
        for name, given in (("with tapes", job), ("no tapes", job.model_copy(update={"rooms": tuple(bare)}))):
            for solved in actions.solve_job(job_folder, given):
                table += [(name, *row) for row in _edges(solved.measured.survey)]
    return table


NO_TAPES = {"width": None, "tapes": ()}


def _edges(survey: WallSurvey) -> Iterator[tuple[str, str, str]]:
    """Each plate's left and right edge against a member that stands at the same share of the wall's width."""
    if (width := survey.width) is None:
        return
    for feature in survey.features:
        for side, edge in (("left", feature.left), ("right", feature.right)):
            if feature.blocks and feature.rectangle and edge is not None:
                share = edge.value / width.value
                alone, together = hypot(edge.sd, share * width.sd), sd_of((1.0, edge), (-share, width))
                yield f"{feature.name} {side}", f"{alone:.4f}", f"{together:.4f}"


def show(title: str, table: Table) -> None:
    """Print one table with its columns lined up."""
    widths = [max(len(row[i]) for row in table) for i in range(len(table[0]))]
    print(f"\n{title}")
    for row in table:
        print("  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)))


def main() -> None:
    """Print the table."""
    show(TITLE, times())
    show(INDEPENDENCE, independence())


if __name__ == "__main__":
    main()
