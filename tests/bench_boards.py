"""Figures of the boards: ``python -m tests.bench_boards``. Instances packed, proven or not, and the seconds each took.

Times are of this machine and stand beside each other; nothing here can fail a test.
"""

import random
import time
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from layout.boards import buy
from layout.cutlist import pieces_of
from layout.exact import SIXTEENTH
from layout.packing import Objective, Packing, Saw
from layout.pieces import Piece
from layout.plan import plan_walls
from layout.scheme import Scheme
from layout.stock import Material, Stock, softwood
from tests.bench_plan import Table, show
from tests.packing import FINALS, INSTANCES, ROLLS
from tests.test_layout_boards import NO_KERF, as_boards, triplets
from tests.test_layout_room import demo_room, taped, wall

YARD = (
    *(softwood("1", width, feet) for width in ("4", "6", "8") for feet in (8, 10, 12, 14, 16)),
    *(
        Stock("moulding", Fraction(7, 8), Fraction(1, 2), Fraction(feet * 12), Material.MOULDING)
        for feet in (8, 12, 16)
    ),
    Stock("sheet", Fraction(48), Fraction(1, 4), Fraction(96), Material.SHEET),
)
SHEETED = Scheme(panel="sheet")


def main() -> None:
    """Print every table."""
    show("Published and constructed packing instances", instances())
    show("A room and houses: boards, mouldings and sheets, each proven or with its gap", jobs())


def instances() -> Table:
    """Each instance, its known optimum, what was found and proven, and the time."""
    table: Table = [("instance", "items", "optimum", "found", "proven at least", "s")]
    known = {**INSTANCES, "paper rolls": ROLLS, "finals": FINALS}
    for name, instance in known.items():
        packing, seconds = timed(*as_boards(instance), NO_KERF)
        table.append((name, str(len(instance.items)), str(instance.fewest), *told(packing), f"{seconds:.2f}"))
    draw = random.Random(1996)
    for third in (20, 40, 83):
        items = triplets([(draw.randint(380, 490), draw.randint(0, 100)) for _ in range(third)])
        pieces, stocks = as_boards(INSTANCES["t60_00"]._replace(items=items, fewest=third))
        packing, seconds = timed(pieces, stocks, NO_KERF)
        table.append((f"triplets, {third} boards", str(3 * third), str(third), *told(packing), f"{seconds:.2f}"))
    return table


def timed(pieces: Sequence[Piece], stocks: Sequence[Stock], saw: Saw) -> tuple[Packing, float]:
    """One packing and how long it took."""
    start = time.perf_counter()
    (packing,) = buy(pieces, stocks, saw, seconds=120)
    return packing, time.perf_counter() - start


def told(packing: Packing) -> tuple[str, str]:
    """What was found, and the bound."""
    return str(packing.amount), str(packing.bound)


def jobs() -> Table:
    """The demo's room and invented houses of 10 and 40 runs, by count and by length."""
    table: Table = [("job", "objective", "pieces", "rows", "boards", "packings proven", "s")]
    for name, walls in (("demo room", demo_room()), ("10 walls", house(10)), ("40 walls", house(40))):
        plan = plan_walls(walls, SHEETED)
        frames = [frame for planned in plan.walls for frame in planned.frames]
        pieces = [piece.sawn(SIXTEENTH) for piece in pieces_of(frames, SHEETED, longest=Fraction(191))]
        for objective in (Objective.COUNT, Objective.LENGTH):
            start = time.perf_counter()
            packings = buy(pieces, YARD, objective=objective)
            seconds = time.perf_counter() - start
            proven = Counter(packing.proven for packing in packings)
            counts = sum(piece.count for piece in pieces), len(pieces), sum(len(p.boards) for p in packings)
            table.append((name, objective, *map(str, counts), f"{proven[True]} of {len(packings)}", f"{seconds:.1f}"))
    return table


def house(walls: int):
    """Walls of 60 to 200 in, open at both ends."""
    draw = random.Random(walls)
    return [wall(width=taped(Fraction(draw.randint(60 * 16, 200 * 16), 16)), name=f"wall {i}") for i in range(walls)]


if __name__ == "__main__":
    main()
