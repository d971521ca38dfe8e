"""From what people noted and what the photos show to one net, ready to adjust.

This is where each rule of thumb becomes an observation with a standard deviation; every one says why it is that big.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import hypot, radians, sqrt

import numpy as np
from numpy.typing import NDArray

from capture.camera import meet_plane
from capture.cards import BAR, BAR_UP
from capture.detect import CardSighting
from capture.errors import UnknownNameError
from capture.net import Coordinates, Linear, Net, Shot, Sights, Slots, Tapes
from capture.photos import focal_prior
from capture.places import FLOOR, LEFT_END, RIGHT_END, Form, Place, named_place, sight_place, usual_size
from capture.record import TRAITS, Along, At, Kind, Mark, PrintRun, Shape, Sight, Tape, Wall
from capture.start import Stand, first_stand, joined_stand, moved
from capture.survey import Finding

Array = NDArray[np.float64]

TAP_SD = 1.5  # px: a thumb with a loupe on a 12 MP photo (common practice)
CENTRE_SD = 0.005  # of the picture's long side: how far a phone's optical axis misses the middle of the picture
K1_SD, K2_SD = 0.1, 0.15  # what is left of a phone lens's distortion after the phone's own correction
PRINT_SD = 0.003  # printers and paper miss true size by some 0.3 % (from memory)
BAR_READING_SD = 1 / 64 / sqrt(3)  # a rule read to 1/64: uniform to half a division either way, both ends
CARD_UP_SD = radians(1.0)  # stuck by eye with the arrows up
LEVEL_SD = 1 / 32  # a laser line good to 1/8 in at 30 ft over a wall, and its width (makers' habit)
FLOOR_SD = 1 / 4  # floors run out of level by 1/4 in in 10 ft (Handbook of Construction Tolerances as reported)
LEAN = 0.005  # of the height: casings and corners lean, 1/4 in in 4 ft
USUAL_SIZE_SD = 1 / 32  # plates of one standard size differ by this much between makers
STOOL_PROUD, STOOL_PROUD_SD = 1.5, 0.5  # in: how far a stool stands into the room (common practice)
LOOSE = 1e4  # in: keeps an unmeasured length finite; far above any wall


@dataclass(frozen=True)
class Seen:
    """One photo as measured: its size, its lens by EXIF, and its cards."""

    name: str
    size: tuple[int, int]
    focal_35: float | None
    phone: str
    cards: tuple[CardSighting, ...]


@dataclass(frozen=True)
class Assembly:
    """A net with what it took to build it."""

    net: Net
    findings: tuple[Finding, ...]
    level: str  # what tells level, in plain words
    strangers: dict[str, tuple[int, ...]] = field(default_factory=dict)  # by photo: cards not on this wall


def tape_sd(length: float) -> float:
    """Standard deviation of a tape reading, inches.

    Half the tape's tolerance (NIST Handbook 44 section 5.52: 1/32 in to 6 ft, 1/16 to 30 ft, 1/8 to 55 ft, then
    3/16 and 1/4) taken as a 95 % limit, and a reading to the nearest 1/16 (uniform, 1/16 / √12).
    """
    limits = ((72, 1 / 32), (360, 1 / 16), (660, 1 / 8), (960, 3 / 16))
    tolerance = next((t for reach, t in limits if length <= reach), 1 / 4)
    return hypot(tolerance / 2, 1 / 16 / sqrt(12))


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
    stands, findings = _stands(seen)
    placed = [s for s in seen if s.name in stands]
    stands, anchored = _in_wall_frame(wall, placed, stands)
    numbers = tuple(sorted({n for stand in stands.values() for n in stand.places}))
    lengths = _Lengths()
    sights = _sights(wall, placed, stands, lengths)
    usable, tape_findings = _usable_tapes(wall, numbers)
    ends = [(t, named_place(wall, t.start, numbers), named_place(wall, t.end, numbers)) for t in usable]
    _declare_tape_ends(ends, lengths)
    _declare_sizes(wall, lengths)
    shots = _shots(placed, stands, lenses := _lenses(placed))
    lens_mean, lens_sd = _lens_priors(placed, lenses)
    card_start = [next(s.places[n] for s in stands.values() if n in s.places) for n in numbers]
    print_mean, print_sd = _print_prior(printed)
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
    columns = _columns(net)
    linear, level = _levels(wall, net, columns, anchored)
    net = replace(net, tapes=_tapes(ends, columns, Slots.of(net).size), linear=linear)
    strangers = {name: stand.strangers for name, stand in stands.items() if stand.strangers}
    findings += tape_findings + [_stranger(photo, n) for photo, numbers in strangers.items() for n in numbers]
    return Assembly(net, tuple(findings), level, strangers)


def _stands(seen: Sequence[Seen]) -> tuple[dict[str, Stand], list[Finding]]:
    """First poses in the frame of one card; a photo that shares no card with the others is left out and named."""
    if not seen:
        return {}, []
    datum = min(c.number for s in seen for c in s.cards)
    order = sorted(seen, key=lambda s: (all(c.number != datum for c in s.cards), -len(s.cards)))
    stands = {order[0].name: first_stand(order[0].cards, _lens_mean(order[0]), datum)}
    waiting = order[1:]
    while waiting:
        known = {n: p for stand in stands.values() for n, p in stand.places.items()}
        joined = {s.name: stand for s in waiting if (stand := joined_stand(s.cards, _lens_mean(s), known))}
        if not joined:
            break
        stands |= joined
        waiting = [s for s in waiting if s.name not in stands]
    return stands, [_unjoined(s.name) for s in waiting]


def _lens_mean(seen: Seen) -> Array:
    focal, _ = focal_prior(seen.size, seen.focal_35)
    return np.array([focal, (seen.size[0] - 1) / 2, (seen.size[1] - 1) / 2, 0.0, 0.0])


def _in_wall_frame(
    wall: Wall, seen: Sequence[Seen], stands: dict[str, Stand]
) -> tuple[dict[str, Stand], tuple[bool, bool]]:
    """The stands in the wall frame, roughly, and whether an end and a floor hold it there."""
    rough = {}
    for mark in wall.marks:
        for nth, sight in enumerate(mark.sights):
            if sight.photo in stands:
                photo = next(s for s in seen if s.name == sight.photo)
                pixel = np.array([[sight.u, sight.v]])
                rough[mark.name, nth] = meet_plane(
                    _lens_mean(photo), stands[sight.photo].pose, pixel, float(mark.proud)
                )[0]
    x = _rough_left(wall, rough)
    y = _mean([p[1] for (name, _), p in rough.items() if _kind(wall, name) is Kind.FLOOR_POINT])
    y = _rough_by_tape(wall, rough, FLOOR, 1) if y is None else y
    origin = np.array([x or 0.0, y or 0.0, 0.0])
    return {name: moved(s, origin) for name, s in stands.items()}, (x is not None, y is not None)


def _rough_left(wall: Wall, rough: dict[tuple[str, int], Array]) -> float | None:
    ends = {m.name: m.side for m in wall.marks if m.kind is Kind.WALL_END}
    left = _mean([p[0] for (name, _), p in rough.items() if ends.get(name) == "left"])
    right = _mean([p[0] for (name, _), p in rough.items() if ends.get(name) == "right"])
    if left is None and right is not None and wall.width is not None:
        return right - float(wall.width)
    return _rough_by_tape(wall, rough, LEFT_END, 0) if left is None else left


def _rough_by_tape(wall: Wall, rough: dict[tuple[str, int], Array], origin: str, axis: int) -> float | None:
    """Where the frame's origin lies if it was taped to something that is seen."""
    for tape in wall.tapes:
        other = tape.end if tape.start == origin else tape.start if tape.end == origin else None
        if other and not tape.check_only:
            seen = _mean([p[axis] for (name, _), p in rough.items() if name == other])
            if seen is not None:
                return seen - float(tape.length)
    return None


def _mean(values: list[float]) -> float | None:
    return float(np.mean(values)) if values else None


def _kind(wall: Wall, name: str) -> Kind:
    return next(m.kind for m in wall.marks if m.name == name)


class _Lengths:
    """Gathers the named unknown lengths while sights and tapes ask for them."""

    def __init__(self) -> None:
        self.start: dict[str, list[float]] = {}
        self.known: dict[str, tuple[float, float]] = {}

    def need(self, form: Form | None, value: float | None = None) -> None:
        """Make sure that the form's unknowns exist; a lone unknown learns a start value."""
        for name in form.terms if form else ():
            guesses = self.start.setdefault(name, [])
            if value is not None and form is not None and len(form.terms) == 1:
                guesses.append(value - form.shift)

    def know(self, name: str, mean: float, sd: float) -> None:
        """What is known of a length beforehand."""
        self.start.setdefault(name, [])
        self.known[name] = (mean, sd)

    def coordinates(self) -> Coordinates:
        """All lengths, in the order in which they were asked for."""
        known = [self.known.get(name, (0.0, LOOSE)) for name in self.start]
        start = [np.mean(guesses) if guesses else known[i][0] for i, guesses in enumerate(self.start.values())]
        return Coordinates(
            tuple(self.start),
            np.array(start, float),
            np.array([mean for mean, _ in known], float),
            np.array([sd for _, sd in known], float),
        )

    def sights(self, taken: "list[_Taken]", seen: Sequence[Seen]) -> Sights:
        """The sights as dense arrays over these lengths."""
        order = {name: i for i, name in enumerate(self.start)}
        photos = [s.name for s in seen]
        forms, shift = np.zeros((len(taken), 3, len(order))), np.zeros((len(taken), 3))
        for n, t in enumerate(taken):
            for axis, form in enumerate(t.forms):
                shift[n, axis] = form.shift
                for name, weight in form.terms.items():
                    forms[n, axis, order[name]] = weight
        return Sights(
            np.array([photos.index(t.sight.photo) for t in taken], dtype=np.intp),
            np.array([(t.sight.u, t.sight.v) for t in taken], float).reshape(-1, 2),
            np.array([t.sight.sd or TAP_SD for t in taken], float),
            forms,
            shift,
        )


@dataclass(frozen=True)
class _Taken:
    """A sight with the forms of its x, y and z."""

    sight: Sight
    forms: tuple[Form, Form, Form]


def _sights(wall: Wall, seen: Sequence[Seen], stands: dict[str, Stand], lengths: _Lengths) -> list[_Taken]:
    taken = []
    floors = 0
    for mark in wall.marks:
        shape = TRAITS[mark.kind].shape
        usable = [(i, s) for i, s in enumerate(mark.sights) if s.photo in stands]
        if shape is Shape.OUTLINE or not usable:
            continue
        if mark.kind is Kind.FLOOR_POINT:
            floors += 1
        rough = {i: _rough_point(mark, s, seen, stands) for i, s in usable}
        middle = float(np.mean([p[1] for p in rough.values()]))
        for i, sight in usable:
            place = sight_place(mark, sight.at, i)
            x, y = place.x or Form(), place.y or Form()
            if mark.kind is Kind.FLOOR_POINT and floors == 1:
                y = Form()  # the first floor point is where y starts
            if shape is Shape.UPRIGHT and (lean := LEAN * abs(rough[i][1] - middle)) > 0.005:
                x = x.plus(Form({f"{mark.name}#{i}/lean": 1.0}))
                lengths.know(f"{mark.name}#{i}/lean", 0.0, lean)
            lengths.need(x, float(rough[i][0]))
            lengths.need(y, float(rough[i][1]))
            taken.append(_Taken(sight, (x, y, _proud(mark, sight, lengths))))
        _start_rectangle(mark, rough, lengths)
    return taken


def _rough_point(mark: Mark, sight: Sight, seen: Sequence[Seen], stands: dict[str, Stand]) -> Array:
    photo = next(s for s in seen if s.name == sight.photo)
    pixel = np.array([[sight.u, sight.v]])
    return np.asarray(meet_plane(_lens_mean(photo), stands[sight.photo].pose, pixel, float(mark.proud))[0])


def _proud(mark: Mark, sight: Sight, lengths: _Lengths) -> Form:
    """How proud the sighted edge is: one unknown shared by all sights of a face, known to its usual spread."""
    mean, sd = (STOOL_PROUD, STOOL_PROUD_SD) if sight.at is At.STOOL else (float(mark.proud), mark.proud_sd)
    if sd == 0:
        return Form({}, mean)
    name = f"{mark.name}/{'stool proud' if sight.at is At.STOOL else 'proud'}"
    lengths.know(name, mean, sd)
    return Form({name: 1.0})


def _start_rectangle(mark: Mark, rough: dict[int, Array], lengths: _Lengths) -> None:
    """Start values from the corners; a side that no pair of corners shows takes its taped or usual size."""
    corners = [(mark.sights[i].at, p) for i, p in rough.items() if mark.sights[i].at not in (At.STOOL, At.APRON)]
    if TRAITS[mark.kind].shape is not Shape.RECTANGLE or not corners:
        return
    points = np.array([p[:2] for _, p in corners])
    for axis, (place, size) in enumerate((("across", "width"), ("up", "height"))):
        low, high = float(points[:, axis].min()), float(points[:, axis].max())
        lengths.start[f"{mark.name}/{place}"] = [(low + high) / 2]
        if high - low > 0.25:
            lengths.start[f"{mark.name}/{size}"] = [high - low]


def shows_size(mark: Mark) -> tuple[bool, bool]:
    """Whether its sights show a rectangle's width, and its height."""
    at = {s.at.value for s in mark.sights}
    both = [
        {word for a in at if " " in a for word in a.split()} >= pair for pair in ({"left", "right"}, {"top", "bottom"})
    ]
    return both[0], both[1]


def _declare_sizes(wall: Wall, lengths: _Lengths) -> None:
    """Sizes of rectangles: as taped; where neither taped nor seen, the usual one, or none."""
    for mark in wall.marks:
        if f"{mark.name}/across" not in lengths.start and f"{mark.name}/up" not in lengths.start:
            continue
        if TRAITS[mark.kind].shape is not Shape.RECTANGLE:
            continue
        usual = usual_size(mark)
        sides = zip(
            ("width", "height"), (mark.width, mark.height), shows_size(mark), usual or (None, None), strict=True
        )
        for side, taped, seen, common in sides:
            name = f"{mark.name}/{side}"
            if taped is not None:
                lengths.know(name, float(taped), tape_sd(float(taped)))
            elif not seen and common is not None:
                lengths.know(name, common, USUAL_SIZE_SD)
            else:
                lengths.start.setdefault(name, [])


def _usable_tapes(wall: Wall, numbers: tuple[int, ...]) -> tuple[list[Tape], list[Finding]]:
    tapes = [t for t in wall.tapes if not t.check_only]
    if wall.width is not None:
        tapes.append(Tape(start=LEFT_END, end=RIGHT_END, length=wall.width, along=Along.ACROSS))
    usable, findings = [], []
    for tape in tapes:
        try:
            named_place(wall, tape.start, numbers), named_place(wall, tape.end, numbers)
            usable.append(tape)
        except UnknownNameError as error:
            findings.append(
                Finding(
                    "tape-to-nowhere",
                    wall.name,
                    f"A tape reading was left out: {error}",
                    "Mark that place, or tape another.",
                )
            )
    return usable, findings


Ends = list[tuple[Tape, Place, Place]]


def _declare_tape_ends(ends: Ends, lengths: _Lengths) -> None:
    for tape, start, end in ends:
        for mine, other, axis in ((start, end, "x"), (end, start, "x"), (start, end, "y"), (end, start, "y")):
            if tape.along is (Along.UP if axis == "x" else Along.ACROSS):
                continue
            form, far = getattr(mine, axis), getattr(other, axis)
            if form is None or any(name.startswith("card ") for name in form.terms):
                continue
            # A tape from the frame itself (an end, the floor) is a start value for what it reaches.
            from_frame = far is not None and not far.terms and not any(lengths.start.get(n) for n in form.terms)
            lengths.need(form, float(tape.length) if from_frame else None)


def _columns(net: Net) -> dict[str, int]:
    """Column of every named unknown: coordinates, and cards' centres."""
    slots = Slots.of(net)
    columns = {name: slots.q.start + i for i, name in enumerate(net.coordinates.names)}
    for i, number in enumerate(net.cards):
        columns[f"card {number}/across"] = slots.card(i).start
        columns[f"card {number}/up"] = slots.card(i).start + 1
    return columns


def _tapes(ends: Ends, columns: dict[str, int], size: int) -> Tapes:
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


def _lenses(seen: Sequence[Seen]) -> list[tuple[str, float | None, tuple[int, int]]]:
    """One lens for all photos of the same phone, zoom and picture size, whichever way up."""
    return sorted({_lens_key(s) for s in seen}, key=str)


def _lens_key(seen: Seen) -> tuple[str, float | None, tuple[int, int]]:
    return seen.phone, seen.focal_35, seen.size


def _shots(
    seen: Sequence[Seen], stands: dict[str, Stand], lenses: list[tuple[str, float | None, tuple[int, int]]]
) -> tuple[Shot, ...]:
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


def _lens_priors(seen: Sequence[Seen], lenses: list[tuple[str, float | None, tuple[int, int]]]) -> tuple[Array, Array]:
    mean, sd = np.zeros((len(lenses), 5)), np.zeros((len(lenses), 5))
    for i, key in enumerate(lenses):
        photo = next(s for s in seen if _lens_key(s) == key)
        mean[i] = _lens_mean(photo)
        centre = CENTRE_SD * max(photo.size)
        sd[i] = (focal_prior(photo.size, photo.focal_35)[1], centre, centre, K1_SD, K2_SD)
    return mean, sd


def _print_prior(printed: PrintRun) -> tuple[Array, Array]:
    mean, sd = np.ones(2), np.full(2, PRINT_SD)
    for i, (reading, bar) in enumerate(((printed.across, BAR), (printed.up, BAR_UP))):
        if reading is not None:
            mean[i], sd[i] = float(reading) / bar, BAR_READING_SD / bar
    return mean, sd


def _levels(wall: Wall, net: Net, columns: dict[str, int], anchored: tuple[bool, bool]) -> tuple[Linear, str]:
    """What holds the frame: origin and level. Each is as strong as it deserves."""
    size = Slots.of(net).size
    rows: list[tuple[dict[int, float], float, float]] = []
    datum = Slots.of(net).card(0).start if net.cards else None
    exact = 1e-5  # in or rad: a datum, not an observation; far below any corner noise
    if datum is not None:
        for axis, held in enumerate(anchored):
            if not held:
                rows.append(({datum + axis: 1.0}, 0.0, exact))
        if not any(anchored):
            rows.append(({datum + 2: 1.0}, 0.0, exact))
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


def _unjoined(photo: str) -> Finding:
    return Finding(
        "photo-not-joined", photo, f"“{photo}” shares no card with the other photos of this wall, so it was left out.",
        "Take one more photo that shows a card of each.",
    )  # fmt: skip


def _stranger(photo: str, number: int) -> Finding:
    return Finding(
        "card-elsewhere", photo, f"Card {number} in “{photo}” does not lie flat in this wall, so it was left out.",
        "That is right for a card on another wall; otherwise stick it flat.",
    )  # fmt: skip
