"""From what people noted and what the photos show to one net, ready to adjust."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from capture.beliefs import CARD_UP_SD, DATUM_SD, FLOOR_SD, LEVEL_SD, lens_belief, print_belief, tape_sd
from capture.errors import UnknownNameError
from capture.frame import in_wall_frame, join_photos
from capture.net import Linear, Net, Seen, Shot, Slots, Tapes
from capture.places import LEFT_END, RIGHT_END, Form, Place, named_place
from capture.record import Along, Kind, PrintRun, Tape, Wall
from capture.start import Stand
from capture.survey import Finding
from capture.unknowns import Unknowns, declare_sizes, gather_sights

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Assembly:
    """A net with what it took to build it."""

    net: Net
    findings: tuple[Finding, ...]
    level: str  # what tells level, in plain words
    strangers: dict[str, tuple[int, ...]] = field(default_factory=dict)  # by photo: cards not on this wall


def assemble(wall: Wall, seen: Sequence[Seen], printed: PrintRun) -> Assembly:
    """Build the net of one wall.

    Parameters
    ----------
    wall
        Marks and tape readings as noted.
    seen
        The wall's photos that show at least one card.
    printed
        The print run of the cards, with its check bars where they were read.
    """
    stands, findings = join_photos(seen)
    placed = [s for s in seen if s.name in stands]
    stands, anchored = in_wall_frame(wall, placed, stands)
    numbers = tuple(sorted({n for stand in stands.values() for n in stand.places}))
    lengths = Unknowns()
    sights = gather_sights(wall, placed, stands, lengths)
    ends, tape_findings = usable_tapes(wall, _readings(wall), numbers)
    _declare_tape_ends(ends, lengths)
    declare_sizes(wall, lengths)
    shots = _shots(placed, stands, lenses := _lenses(placed))
    lens_mean, lens_sd = _lens_priors(placed, lenses)
    card_start = [next(s.places[n] for s in stands.values() if n in s.places) for n in numbers]
    print_mean, print_sd = print_belief(printed)
    net = Net(
        shots=shots,
        lens_mean=lens_mean,
        lens_sd=lens_sd,
        cards=numbers,
        card_start=np.array(card_start, float).reshape(-1, 3),
        print_mean=print_mean,
        print_sd=print_sd,
        coordinates=lengths.coordinates(),
        sights=lengths.sights(sights, placed),
        tapes=Tapes((), np.zeros(0), np.zeros(0), np.zeros((0, 2, 0)), np.zeros((0, 2))),
        linear=Linear(np.zeros((0, 0)), np.zeros(0), np.zeros(0)),
    )
    columns = named_columns(net)
    linear, level = _levels(wall, net, columns, anchored)
    net = replace(net, tapes=tape_rows(ends, columns, Slots.of(net).size), linear=linear)
    strangers = {name: stand.strangers for name, stand in stands.items() if stand.strangers}
    findings += tape_findings + [_stranger(photo, n) for photo, numbers in strangers.items() for n in numbers]
    return Assembly(net, tuple(findings), level, strangers)


def _readings(wall: Wall) -> list[Tape]:
    """The readings to use: those not held back, and the wall's width."""
    tapes = [t for t in wall.tapes if not t.check_only]
    if wall.width is not None:
        tapes.append(Tape(start=LEFT_END, end=RIGHT_END, length=wall.width, along=Along.ACROSS))
    return tapes


def usable_tapes(
    wall: Wall, tapes: Sequence[Tape], numbers: tuple[int, ...]
) -> tuple[list[tuple[Tape, Place, Place]], list[Finding]]:
    """Tape readings with the places at their ends; one to a place that is not there is named and left out."""
    usable, findings = [], []
    for tape in tapes:
        try:
            usable.append((tape, named_place(wall, tape.start, numbers), named_place(wall, tape.end, numbers)))
        except UnknownNameError as error:
            findings.append(_nowhere(wall, error))
    return usable, findings


def _nowhere(wall: Wall, error: UnknownNameError) -> Finding:
    return Finding(
        "tape-to-nowhere", wall.name, f"A tape reading was left out: {error}", "Mark that place, or tape another."
    )


Ends = list[tuple[Tape, Place, Place]]


def _declare_tape_ends(ends: Ends, lengths: Unknowns) -> None:
    """Make sure that what tapes reach exists; what only a tape knows of starts where the tape says.

    A reading between two marks does not say which lies right (or above): TO does, unless the photos tell.
    """
    for _ in ends:  # a chain of readings is as long as there are readings at the most
        for tape, start, end in ends:
            for axis, idle in (("x", Along.UP), ("y", Along.ACROSS)):
                if tape.along is not idle:
                    _start_tape_end(tape, getattr(start, axis), getattr(end, axis), lengths)


def _start_tape_end(tape: Tape, start: Form | None, end: Form | None, lengths: Unknowns) -> None:
    for form, far, way in ((start, end, -1), (end, start, 1)):
        if form is None or any(name.startswith("card ") for name in form.terms):
            continue
        lengths.need(form)
        here = lengths.guess(far) if far is not None else None
        main = next(iter(form.terms), None)
        if tape.along is Along.STRAIGHT or here is None or main is None or lengths.start[main]:
            continue
        if far is not None and not far.terms:
            way = 1  # all that is taped from the left end or the floor lies right of it or above
        elif RIGHT_END in (tape.start, tape.end):
            way = -1
        lengths.start[main].append(here + way * float(tape.length))


def named_columns(net: Net) -> dict[str, int]:
    """Column of every named unknown: coordinates, and cards' centres."""
    slots = Slots.of(net)
    columns = {name: slots.q.start + i for i, name in enumerate(net.coordinates.names)}
    for i, number in enumerate(net.cards):
        columns[f"card {number}/across"] = slots.card(i).start
        columns[f"card {number}/up"] = slots.card(i).start + 1
    return columns


def tape_rows(ends: Ends, columns: dict[str, int], size: int) -> Tapes:
    """Readings with their ends as rows over all unknowns; a reading lies along one axis or straight."""
    forms, shift = np.zeros((len(ends), 2, size)), np.zeros((len(ends), 2))
    for n, (tape, start, end) in enumerate(ends):
        for axis, (a, b) in enumerate(((start.x, end.x), (start.y, end.y))):
            if tape.along is (Along.UP, Along.ACROSS)[axis] or a is None or b is None:
                continue
            way = b.plus(a, -1.0)
            shift[n, axis] = way.shift
            for name, weight in way.terms.items():
                forms[n, axis, columns[name]] = weight
    lengths = np.array([float(t.length) for t, _, _ in ends])
    sds = np.array([t.sd or tape_sd(float(t.length)) for t, _, _ in ends])
    return Tapes(tuple(f"tape {t.start} to {t.end}" for t, _, _ in ends), lengths, sds, forms, shift)


LensKey = tuple[str, float | None, tuple[int, int]]


def _lenses(seen: Sequence[Seen]) -> list[LensKey]:
    """One lens for all photos of the same phone, zoom and picture size, whichever way up."""
    return sorted({_lens_key(s) for s in seen}, key=str)


def _lens_key(seen: Seen) -> LensKey:
    return seen.phone, seen.focal_35, seen.size


def _shots(seen: Sequence[Seen], stands: dict[str, Stand], lenses: list[LensKey]) -> tuple[Shot, ...]:
    return tuple(
        Shot(
            s.name,
            s.size,
            lenses.index(_lens_key(s)),
            tuple(c for c in s.cards if c.number in stands[s.name].places),
            stands[s.name].pose,
        )
        for s in seen
    )


def _lens_priors(seen: Sequence[Seen], lenses: list[LensKey]) -> tuple[Array, Array]:
    mean, sd = np.zeros((len(lenses), 5)), np.zeros((len(lenses), 5))
    for i, key in enumerate(lenses):
        mean[i], sd[i] = lens_belief(next(s for s in seen if _lens_key(s) == key))
    return mean, sd


def _levels(wall: Wall, net: Net, columns: dict[str, int], anchored: tuple[bool, bool]) -> tuple[Linear, str]:
    """What holds the frame: origin and level. Each is as strong as it deserves."""
    size = Slots.of(net).size
    rows: list[tuple[dict[int, float], float, float]] = []
    datum = Slots.of(net).card(0).start if net.cards else None
    if datum is not None:
        for axis, held in enumerate(anchored):
            if not held:
                rows.append(({datum + axis: 1.0}, 0.0, DATUM_SD))
        if not any(anchored):
            rows.append(({datum + 2: 1.0}, 0.0, DATUM_SD))
        else:
            rows += [({Slots.of(net).card(i).start + 2: 1.0}, 0.0, CARD_UP_SD) for i in range(len(net.cards))]
    points = [columns[f"{m.name}/up"] for m in wall.marks if m.kind is Kind.LEVEL_POINT and f"{m.name}/up" in columns]
    rows += [({p: 1.0, points[0]: -1.0}, 0.0, LEVEL_SD * sqrt(2)) for p in points[1:]]
    floors = [columns[f"{m.name}/up"] for m in wall.marks if m.kind is Kind.FLOOR_POINT and f"{m.name}/up" in columns]
    rows += [({p: 1.0}, 0.0, FLOOR_SD) for p in floors]
    matrix = np.zeros((len(rows), size))
    for i, (terms, _, _) in enumerate(rows):
        for column, weight in terms.items():
            matrix[i, column] = weight
    linear = Linear(matrix, np.array([v for _, v, _ in rows], float), np.array([s for _, _, s in rows], float))
    return linear, _level_words(len(points), len(floors), anchored, net.cards)


def _level_words(points: int, floors: int, anchored: tuple[bool, bool], numbers: tuple[int, ...]) -> str:
    if points >= 2:
        return f"a level line through {points} points"
    if floors >= 1:
        return "the floor line, taken as level to 1/4 in, and the cards' arrows"
    if any(anchored) and numbers:
        return "the cards' arrows, set by eye"
    return f"card {numbers[0]}, its arrows as up" if numbers else "the tape alone"


def _stranger(photo: str, number: int) -> Finding:
    return Finding(
        "card-elsewhere", photo, f"Card {number} in “{photo}” does not lie flat in this wall, so it was left out.",
        "That is right for a card on another wall; otherwise stick it flat.",
    )  # fmt: skip
