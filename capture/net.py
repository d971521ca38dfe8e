"""What goes into one adjustment, as data: unknowns by slot, observations by kind.

Unknowns, in this order: lenses (f, cx, cy, k1, k2), camera poses (Rodrigues vector, translation), cards (x, y,
angle in the wall plane), the printed scale of the cards (across, up), and coordinates (named lengths in the wall
frame of which every marked point is a linear function).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from capture.camera import LENS, POSE
from capture.detect import CardSighting

Array = NDArray[np.float64]

CORNER_SD = 0.05  # px: half-turn saddle points scatter by 0.01 to 0.04 in simulation, paper and lens add to it


@dataclass(frozen=True)
class Seen:
    """One photo as measured: its size, its lens by EXIF, and its cards."""

    name: str
    size: tuple[int, int]
    focal_35: float | None
    phone: str
    cards: tuple[CardSighting, ...]
    zoom: float = 1.0  # digital zoom by EXIF
    full_size: tuple[int, int] | None = None  # upright, as the camera wrote it; None where EXIF does not say


@dataclass(frozen=True)
class Shot:
    """One photo's part in the net."""

    name: str
    size: tuple[int, int]
    lens: int
    cards: tuple[CardSighting, ...]
    pose: Array  # (6,) start value
    corner_sd: float = CORNER_SD  # px


@dataclass(frozen=True)
class Coordinates:
    """Named unknown lengths in the wall frame, with what is known of each beforehand."""

    names: tuple[str, ...]
    start: Array  # (S,) in
    mean: Array  # (S,) in
    sd: Array  # (S,) in; inf where nothing is known


@dataclass(frozen=True)
class Sights:
    """Taps: pixels of points whose x, y, z are linear in the coordinates, `forms @ q + shift`."""

    names: tuple[str, ...]  # mark and photo
    shot: NDArray[np.intp]  # (N,)
    pixels: Array  # (N, 2)
    sd: Array  # (N,) px
    forms: Array  # (N, 3, S)
    shift: Array  # (N, 3)


@dataclass(frozen=True)
class Tapes:
    """Tape readings: distance between two points that are linear in the coordinates or are cards' centres."""

    names: tuple[str, ...]
    length: Array  # (T,) in
    sd: Array  # (T,) in
    forms: Array  # (T, 2, P) end minus start, x and y, linear in all unknowns P
    shift: Array  # (T, 2)


@dataclass(frozen=True)
class Linear:
    """Observations linear in the unknowns, `rows @ unknowns - value`: levels, ups, datum."""

    rows: Array  # (M, P)
    value: Array  # (M,)
    sd: Array  # (M,)


@dataclass(frozen=True)
class Net:
    """All that goes into one adjustment."""

    shots: tuple[Shot, ...]
    lens_mean: Array  # (L, 5)
    lens_sd: Array  # (L, 5)
    cards: tuple[int, ...]  # numbers
    card_start: Array  # (C, 3): x, y [in], angle [rad]
    print_mean: Array  # (2,) printed over nominal, across and up
    print_sd: Array  # (2,)
    coordinates: Coordinates
    sights: Sights
    tapes: Tapes
    linear: Linear


@dataclass(frozen=True)
class Slots:
    """Where each kind of unknown lies in the vector."""

    lenses: int
    shots: int
    cards: int
    coordinates: int

    @classmethod
    def of(cls, net: Net) -> "Slots":
        """The slots of a net."""
        return cls(len(net.lens_mean), len(net.shots), len(net.cards), len(net.coordinates.names))

    def lens(self, i: int) -> slice:
        """Lens i: f, cx, cy, k1, k2."""
        return slice(LENS * i, LENS * (i + 1))

    def pose(self, i: int) -> slice:
        """Pose of shot i."""
        first = LENS * self.lenses + POSE * i
        return slice(first, first + POSE)

    def card(self, i: int) -> slice:
        """Card i: x, y, angle."""
        first = LENS * self.lenses + POSE * self.shots + 3 * i
        return slice(first, first + 3)

    @property
    def printed(self) -> slice:
        """Printed scale, across and up."""
        return slice(self.card(self.cards).start, self.card(self.cards).start + 2)

    @property
    def q(self) -> slice:
        """The coordinates."""
        return slice(self.printed.stop, self.printed.stop + self.coordinates)

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return int(self.q.stop)
