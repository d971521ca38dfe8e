"""The named unknown lengths of a wall, gathered from what its sights, sizes and tapes ask for."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from capture.beliefs import (
    BOW_REACH,
    LEAN,
    LEAN_FROM,
    LOOSE,
    STOOL_PROUD,
    STOOL_PROUD_SD,
    TAP_SD,
    USUAL_SIZE_SD,
    tape_sd,
)
from capture.frame import rough_points
from capture.net import Coordinates, Seen, Sights
from capture.places import Form, sight_place, usual_size
from capture.record import TRAITS, At, Mark, Shape, Sight, Wall
from capture.start import Stand

Array = NDArray[np.float64]


class Unknowns:
    """Gathers the named unknown lengths while sights and tapes ask for them."""

    def __init__(self, cards: dict[str, float]) -> None:
        self.cards = cards  # where cards hang, roughly: unknowns too, but with places of their own in the net
        self.start: dict[str, list[float]] = {}
        self.known: dict[str, tuple[float, float]] = {}
        self.bowed: dict[str, Array] = {}  # where on the wall, roughly, each unknown bow lies

    def need(self, form: Form | None, value: float | None = None) -> None:
        """Make sure that the form's unknowns exist; a lone unknown learns a start value."""
        for name in form.terms if form else ():
            if name in self.cards:
                continue
            guesses = self.start.setdefault(name, [])
            if value is not None and form is not None and len(form.terms) == 1:
                guesses.append(value - form.shift)

    def values(self) -> dict[str, float]:
        """What is known of each length, roughly; a length of which nothing is known is left out."""
        guessed = {name: float(np.mean(guesses)) for name, guesses in self.start.items() if guesses}
        return self.cards | {name: mean for name, (mean, _) in self.known.items()} | guessed

    def know(self, name: str, mean: float, sd: float) -> None:
        """What is known of a length beforehand."""
        self.start.setdefault(name, [])
        self.known[name] = (mean, sd)

    def bow(self, name: str, at: Array) -> Form:
        """The wall's bow at a place; one name has one bow."""
        if name not in self.bowed:
            self.bowed[name] = at
            self.know(name, 0.0, np.inf)  # what is known of it beforehand, all bows share
        return Form({name: 1.0})

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

    def sights(self, taken: "Sequence[Taken]", seen: Sequence[Seen]) -> Sights:
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
            tuple(f"{t.mark} in {t.sight.photo}" for t in taken),
            np.array([photos.index(t.sight.photo) for t in taken], dtype=np.intp),
            np.array([(t.sight.u, t.sight.v) for t in taken], float).reshape(-1, 2),
            np.array([t.sight.sd or TAP_SD for t in taken], float),
            forms,
            shift,
        )


@dataclass(frozen=True)
class Taken:
    """A sight of a mark, with the forms of its x, y and z."""

    mark: str
    sight: Sight
    forms: tuple[Form, Form, Form]


def gather_sights(
    wall: Wall, seen: Sequence[Seen], stands: dict[str, Stand], lengths: Unknowns, floor: bool
) -> list[Taken]:
    """All sights as forms of unknowns that `lengths` now holds with start values.

    An upright line leans and bows: it stands where it is said to stand at `LEAN_FROM` above the floor, or, while no
    `floor` is known, at the mean height of its sights; each sight elsewhere is off by as much as `LEAN` says.
    """
    taken = []
    marks = [mark for mark in wall.marks if TRAITS[mark.kind].shape is not Shape.OUTLINE and mark.sights]
    for mark, rough in zip(marks, rough_points(marks, seen, stands), strict=True):
        shape = TRAITS[mark.kind].shape
        one_bow = float(np.ptp(rough, axis=0).max()) < BOW_REACH / 2
        level = LEAN_FROM if floor else float(rough[:, 1].mean())
        for i, sight in enumerate(mark.sights):
            place = sight_place(mark, sight.at, i)
            x, y = place.x or Form(), place.y or Form()
            lengths.need(x, float(rough[i][0]))
            lengths.need(y, float(rough[i][1]))
            if shape is Shape.UPRIGHT and (lean := LEAN * abs(float(rough[i][1]) - level)) > 0.005:
                lengths.know(f"{mark.name}#{i}/lean", 0.0, lean)
                x = x.plus(Form({f"{mark.name}#{i}/lean": 1.0}))
            z = _proud(mark, sight, lengths)
            if wall.bow != 0:
                z = z.plus(lengths.bow(f"{mark.name}{'' if one_bow else f'#{i}'}/bow", rough[i][:2]))
            taken.append(Taken(mark.name, sight, (x, y, z)))
        _start_rectangle(mark, rough, lengths)
    return taken


def _proud(mark: Mark, sight: Sight, lengths: Unknowns) -> Form:
    """How proud the sighted edge is: one unknown shared by all sights of a face, known to its usual spread."""
    mean, sd = (STOOL_PROUD, STOOL_PROUD_SD) if sight.at is At.STOOL else (float(mark.proud), mark.proud_sd)
    if sd == 0:
        return Form({}, mean)
    name = f"{mark.name}/{'stool proud' if sight.at is At.STOOL else 'proud'}"
    lengths.know(name, mean, sd)
    return Form({name: 1.0})


def _start_rectangle(mark: Mark, rough: Array, lengths: Unknowns) -> None:
    """Start values from the corners; a side that no pair of corners shows takes its taped or usual size."""
    corners = [p for sight, p in zip(mark.sights, rough, strict=True) if sight.at not in (At.STOOL, At.APRON)]
    if TRAITS[mark.kind].shape is not Shape.RECTANGLE or not corners:
        return
    points = np.array(corners)[:, :2]
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


def declare_sizes(wall: Wall, lengths: Unknowns) -> None:
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
