"""From what people noted and what the photos show to one net, ready to adjust."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from capture.beliefs import BOW_SD, CARD_UP_SD, DATUM_SD, FLOOR_SD, LEVEL_SD, print_belief
from capture.bow import bow_covariance, whitened
from capture.frame import card_places, frame_findings, join_photos, origin_by, upright, with_usable_sights
from capture.lenses import lens_findings, lens_key, lens_priors, lenses_of
from capture.net import LensKey, Linear, Net, Seen, Shot, Slots
from capture.record import Along, Kind, Lens, PrintRun, Wall
from capture.start import Stand, moved
from capture.survey import Finding
from capture.tapes import AXES, ORIGIN, Ends, allow_for_floor, follow, readings, tape_rows, usable_tapes
from capture.unknowns import Taken, Unknowns, declare_sizes, gather_sights

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Assembly:
    """A net with what it took to build it."""

    net: Net
    wall: Wall  # as noted, with the sights that are used
    seen: tuple[Seen, ...]  # the photos that joined
    printed: PrintRun
    lenses: tuple[Lens, ...]
    held: Ends  # readings held back, with their ends
    findings: tuple[Finding, ...]
    level: str  # what tells level, in plain words
    anchored: tuple[bool, bool]  # whether the left end and the floor hold the frame, or else a card


Join = Callable[[Sequence[Seen]], tuple[dict[str, Stand], list[Finding]]]


def assemble(
    wall: Wall, seen: Sequence[Seen], printed: PrintRun, lenses: Sequence[Lens] = (), join: Join = join_photos
) -> Assembly:
    """Build the net of one wall.

    Parameters
    ----------
    wall
        Marks and tape readings as noted.
    seen
        The wall's photos that show at least one card.
    printed
        The print run of the cards, with its check bars where they were read.
    lenses
        Lenses as calibrated.
    join
        How the photos are joined; `capture.memory` knows those that were joined before.
    """
    seen = without_asides(wall, seen)
    stands, findings = join(seen)
    placed = [s for s in seen if s.name in stands]
    stands, astray = upright(stands)
    wall, missed = with_usable_sights(wall, placed, stands)
    ends, untold = usable_tapes(wall, readings(wall), tuple(card_places(stands)))
    held, _ = usable_tapes(wall, [t for t in wall.tapes if t.check_only], tuple(card_places(stands)))
    origin = origin_by(wall, placed, stands, _gather(wall, placed, stands, ends, False)[0].values(), ends)
    anchored = (origin[0] is not None, origin[1] is not None)
    stands = {name: moved(s, np.array([origin[0] or 0.0, origin[1] or 0.0, 0.0])) for name, s in stands.items()}
    lengths, sights = _gather(wall, placed, stands, ends, anchored[1])
    _start_by_tape(ends, lengths)
    if placed:
        ends, held = (allow_for_floor(e, lengths.values(), _floor_starts(wall, lengths)) for e in (ends, held))
    net = _net(placed, stands, printed, lengths, sights, lenses)
    columns = named_columns(net)
    linear, level = _levels(wall, net, columns, anchored, astray)
    linear = linear.and_(_bow(wall, net, columns, lengths))
    net = replace(net, tapes=tape_rows(ends, columns, Slots.of(net).size), linear=linear)
    findings += [*missed, *untold, *frame_findings(wall, stands, anchored, astray), *lens_findings(placed, lenses)]
    return Assembly(net, wall, tuple(placed), printed, tuple(lenses), held, tuple(findings), level, anchored)


def _gather(
    wall: Wall, placed: Sequence[Seen], stands: dict[str, Stand], ends: Ends, floor: bool
) -> tuple[Unknowns, list[Taken]]:
    """All that sights, tapes and sizes ask for, with start values in the frame of the stands; and the sights."""
    cards = card_places(stands)
    lengths = Unknowns({f"card {n}/{way}": float(cards[n][i]) for n in cards for i, way in enumerate(("across", "up"))})
    for number, at in cards.items() if wall.bow != 0 else ():
        for bow in card_bow(number):
            lengths.bow(bow, at[:2])
    taken = gather_sights(wall, placed, stands, lengths, floor)
    for tape, *places in ends:
        for place in places:
            lengths.need(place.x if tape.along is not Along.UP else None)
            lengths.need(place.y if tape.along is not Along.ACROSS else None)
    declare_sizes(wall, lengths)
    return lengths, taken


def _start_by_tape(ends: Ends, lengths: Unknowns) -> None:
    """What only a tape knows of starts where the tape says."""
    known = lengths.values() | {ORIGIN: 0.0}
    for axis in AXES:
        for name, value in follow(ends, axis, known).items():
            if name not in known:
                lengths.start[name].append(value)


def card_bow(number: int) -> tuple[str, str, str]:
    """Names of the wall's height, slope across and slope up at a card."""
    return f"card {number}/bow", f"card {number}/bow across", f"card {number}/bow up"


def _floor_starts(wall: Wall, lengths: Unknowns) -> float | None:
    """Where across the wall the first floor point lies, roughly."""
    across = (lengths.values().get(f"{m.name}#0/across") for m in wall.marks if m.kind is Kind.FLOOR_POINT)
    return next(across, None)


def _net(
    placed: Sequence[Seen],
    stands: dict[str, Stand],
    printed: PrintRun,
    lengths: Unknowns,
    sights: Sequence[Taken],
    kept: Sequence[Lens],
) -> Net:
    """The net but for what is a row over all unknowns: tapes, levels."""
    lenses = lenses_of(placed)
    lens_mean, lens_sd = lens_priors(lenses, kept)
    cards = card_places(stands)
    print_mean, print_root = print_belief(printed)
    order = {name: i for i, name in enumerate(lengths.start)}
    bow = [[order[name] for name in card_bow(number)] for number in cards] if lengths.bowed else []
    return Net(
        shots=_shots(placed, stands, lenses),
        lens_mean=lens_mean,
        lens_sd=lens_sd,
        cards=tuple(cards),
        card_start=np.array(list(cards.values()), float).reshape(-1, 3),
        print_mean=print_mean,
        print_root=print_root,
        coordinates=lengths.coordinates(),
        sights=lengths.sights(sights, placed),
        tapes=tape_rows([], {}, 0),
        linear=Linear(np.zeros((0, 0)), np.zeros(0), np.zeros(0)),
        bow=np.array(bow, np.intp).reshape(-1, 3),
        lens_keys=tuple(lenses),
    )


def named_columns(net: Net) -> dict[str, int]:
    """Column of every named unknown: coordinates, and cards' centres."""
    slots = Slots.of(net)
    columns = {name: slots.q.start + i for i, name in enumerate(net.coordinates.names)}
    for i, number in enumerate(net.cards):
        columns[f"card {number}/across"] = slots.card(i).start
        columns[f"card {number}/up"] = slots.card(i).start + 1
    return columns


def _shots(seen: Sequence[Seen], stands: dict[str, Stand], lenses: list[LensKey]) -> tuple[Shot, ...]:
    return tuple(
        Shot(
            s.name,
            s.size,
            lenses.index(lens_key(s)),
            tuple(c for c in s.cards if c.number in stands[s.name].places),
            stands[s.name].pose,
            turn=s.turn,
        )
        for s in seen
    )


def without_asides(wall: Wall, seen: Sequence[Seen]) -> list[Seen]:
    """The photos without the cards that people set aside; one that this leaves empty is left out."""
    aside = {(a.card, a.photo) for a in wall.asides}
    kept = (
        replace(s, cards=tuple(c for c in s.cards if not {(c.number, None), (c.number, s.name)} & aside)) for s in seen
    )
    return [s for s in kept if s.cards]


def _levels(
    wall: Wall, net: Net, columns: dict[str, int], anchored: tuple[bool, bool], astray: tuple[int, ...]
) -> tuple[Linear, str]:
    """What holds the frame: origin and level. Each is as strong as it deserves.

    A level line tells level by itself; else the floor points and the cards' arrows do. The lowest-numbered card
    whose arrow is believed is held where no end, no floor or nothing at all tells.
    """
    slots = Slots.of(net)
    points, floors = (
        [columns[f"{m.name}/up"] for m in wall.marks if m.kind is kind and f"{m.name}/up" in columns]
        for kind in (Kind.LEVEL_POINT, Kind.FLOOR_POINT)
    )
    line = len(points) >= 2
    arrows = [slots.card(i).start for i, n in enumerate(net.cards) if n not in astray]
    rows: list[tuple[dict[int, float], float]] = []  # terms that add up to nothing, and how surely
    if arrows:
        rows += [({arrows[0] + axis: 1.0}, DATUM_SD) for axis, held in enumerate(anchored) if not held]
        free = any(anchored) or line
        rows += [({a + 2: 1.0}, CARD_UP_SD) for a in arrows] if free else [({arrows[0] + 2: 1.0}, DATUM_SD)]
    rows += [({p: 1.0, points[0]: -1.0}, LEVEL_SD * sqrt(2)) for p in points[1:]]
    rows += [({p: 1.0}, DATUM_SD) for p in floors[:1]]
    rows += [({p: 1.0}, FLOOR_SD) for p in floors[1:] if not line]
    matrix = np.zeros((len(rows), slots.size))
    for i, (terms, _) in enumerate(rows):
        for column, weight in terms.items():
            matrix[i, column] = weight
    linear = Linear(matrix, np.zeros(len(rows)), np.array([sd for _, sd in rows], float))
    return linear, _level_words(len(points), len(floors), anchored, net.cards)


def _bow(wall: Wall, net: Net, columns: dict[str, int], lengths: Unknowns) -> Linear:
    """What is known of the wall's bow beforehand, at cards and marks together."""
    sd = BOW_SD if wall.bow is None else float(wall.bow) / 2  # the widest gap is taken as a 95 % limit
    cards = [name for number in net.cards if lengths.bowed for name in card_bow(number)]
    marks = [name for name in lengths.bowed if name not in cards]
    at = np.array([lengths.bowed[name] for name in (*cards[::3], *marks)]).reshape(-1, 2)
    n = len(cards) // 3
    W = whitened(bow_covariance(at[:n], at[n:], sd))
    rows = np.zeros((len(W), Slots.of(net).size))
    rows[:, [columns[name] for name in (*cards, *marks)]] = W
    return Linear(rows, np.zeros(len(W)), np.ones(len(W)))


def _level_words(points: int, floors: int, anchored: tuple[bool, bool], numbers: tuple[int, ...]) -> str:
    if points >= 2:
        return f"a level line through {points} points"
    if floors >= 2:
        return "the floor line, taken as level to 1/4 in (6 mm), and the cards' arrows"
    if any(anchored) and numbers:
        return "the cards' arrows, set by eye"
    return f"card {numbers[0]}, its arrows as up" if numbers else "the tape alone"
