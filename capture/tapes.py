"""Tape readings: which can be used, where they lead from what is known, and their rows in the net."""

from collections.abc import Sequence
from math import hypot
from typing import Literal

import numpy as np

from capture.beliefs import FLOOR_SD, tape_sd
from capture.errors import UnknownNameError
from capture.net import Tapes
from capture.places import FLOOR, LEFT_END, RIGHT_END, Form, Place, named_place
from capture.record import Along, Tape, Wall
from capture.survey import Finding

Ends = list[tuple[Tape, Place, Place]]  # readings with the places at their ends
Axis = Literal["x", "y"]
AXES: tuple[Axis, Axis] = ("x", "y")
ORIGIN = ""  # stands for the frame's origin among the names of unknowns
RUN = 120.0  # in: the length of floor over which `FLOOR_SD` is meant


def readings(wall: Wall) -> list[Tape]:
    """The readings that a wall is measured by: those not held back, and its width. All that count them count these."""
    tapes = [t for t in wall.tapes if not t.check_only]
    if wall.width is not None:
        tapes.append(Tape(start=LEFT_END, end=RIGHT_END, length=wall.width, along=Along.ACROSS))
    return tapes


def usable_tapes(wall: Wall, tapes: Sequence[Tape], numbers: tuple[int, ...]) -> tuple[Ends, list[Finding]]:
    """Tape readings with the places at their ends; one that tells nothing of the wall is named and left out."""
    usable, findings = [], []
    for tape in tapes:
        try:
            ends = named_place(wall, tape.start, numbers), named_place(wall, tape.end, numbers)
        except UnknownNameError as error:
            findings.append(
                Finding(
                    "tape-to-nowhere", wall.name, f"A tape reading was left out: {error}",
                    "Mark that place, or tape another.",
                )
            )  # fmt: skip
            continue
        if tape.length == 0 or not _tells(tape, *ends):
            findings.append(
                Finding(
                    "tape-tells-nothing", wall.name,
                    f"The tape {tape.along} from “{tape.start}” to “{tape.end}” tells nothing, so it was left out.",
                    "Tape it again between two places, or take it away.",
                )
            )  # fmt: skip
            continue
        usable.append((tape, *ends))
    return usable, findings


def _tells(tape: Tape, start: Place, end: Place) -> bool:
    across = tape.along is not Along.UP and None not in (start.x, end.x) and start.x != end.x
    up = tape.along is not Along.ACROSS and None not in (start.y, end.y) and start.y != end.y
    return across or up


def follow(ends: Ends, axis: Axis, known: dict[str, float]) -> dict[str, float]:
    """What is known along one axis, and all that tape readings lead to from there, roughly.

    A reading between two marks does not say which lies right (or above): TO does. All else lies right of the
    left end, left of the right end and above the floor. A straight reading is followed as if laid across.
    """
    values = dict(known)
    for _ in ends:  # a chain of readings is as long as there are readings at the most
        for tape, start, end in ends:
            a, b = getattr(start, axis), getattr(end, axis)
            if a is None or b is None or _followed_along(tape, start, end) != axis:
                continue
            backward = not b.terms or _main(a) == f"{RIGHT_END}/across"
            way = -float(tape.length) if backward else float(tape.length)
            for here, there, step in ((a, b, way), (b, a, -way)):
                if _main(here) in values and _main(there) not in values:
                    values[_main(there)] = values[_main(here)] + _rest(here, values) + step - _rest(there, values)
    return values


def _followed_along(tape: Tape, start: Place, end: Place) -> Axis:
    return "y" if tape.along is Along.UP or start.x is None or end.x is None else "x"


def _main(form: Form) -> str:
    """The unknown that says where a place lies; its others are sizes."""
    return next(iter(form.terms), ORIGIN)


def _rest(form: Form, values: dict[str, float]) -> float:
    """What the form adds to its main unknown."""
    return form.shift + sum(w * values.get(name, 0.0) for name, w in list(form.terms.items())[1:])


def allow_for_floor(ends: Ends, across: dict[str, float], origin: float | None) -> Ends:
    """The readings, those from the floor less sure the further they were taken from where y starts.

    A tape stands on the floor below its mark, which need not be level with the floor at `origin` (the first floor
    point, else the first such reading).
    """
    allowed: Ends = []
    for tape, start, end in ends:
        if tape.along is Along.UP and FLOOR in (tape.start, tape.end):
            stood = _main((end if tape.start == FLOOR else start).y or Form()).rpartition("/")[0]
            x = across.get(f"{stood}/across", across.get(f"{stood}#0/across"))
            origin = x if origin is None else origin
            run = RUN if x is None or origin is None else abs(x - origin)
            sd = hypot(tape.sd or tape_sd(float(tape.length)), FLOOR_SD * run / RUN)
            tape = tape.model_copy(update={"sd": sd})
        allowed.append((tape, start, end))
    return allowed


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
    ways = np.array([_way(tape) for tape, _, _ in ends], float).reshape(-1, 2)
    return Tapes(tuple(f"tape {t.start} to {t.end}" for t, _, _ in ends), lengths, sds, forms, shift, ways)


def _way(tape: Tape) -> tuple[float, float]:
    """The way a reading runs: all lies right of the left end, left of the right end and above the floor.

    So a thing near an end cannot come out beyond it, as it could were the reading a mere distance.
    """
    forward, backward = (LEFT_END, FLOOR), (RIGHT_END,)
    if tape.start in forward or tape.end in backward:
        sign = 1.0
    elif tape.end in forward or tape.start in backward:
        sign = -1.0
    else:
        return 0.0, 0.0
    return {Along.ACROSS: (sign, 0.0), Along.UP: (0.0, sign), Along.STRAIGHT: (0.0, 0.0)}[tape.along]
