"""What goes into one adjustment, as data: unknowns by slot, observations by kind.

Unknowns, in this order: lenses (f, cx, cy, k1, k2), camera poses (Rodrigues vector, translation), cards (x, y,
angle in the wall plane), the printed scale of the cards (across, up), and coordinates (named lengths in the wall
frame of which every marked point is a linear function).
"""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from capture.camera import LENS, POSE
from capture.detect import CardSighting

Array = NDArray[np.float64]

CORNER_SD = 0.05  # px: half-turn saddle points scatter by 0.01 to 0.04 in simulation, paper and lens add to it


LensKey = tuple[str, float | None, tuple[int, int], str]  # phone, 35 mm equivalent, picture size, what was done to it


@dataclass(frozen=True)
class Seen:
    """One photo as measured: its size, its lens by EXIF, and its cards."""

    name: str
    size: tuple[int, int]
    focal_35: float | None
    phone: str
    cards: tuple[CardSighting, ...]
    turn: int = 0  # quarter turns clockwise that brought the picture upright
    zoom: float = 1.0  # digital zoom
    full_size: tuple[int, int] | None = None  # as the phone took it, upright, px; None where the file does not say

    @property
    def sensor(self) -> tuple[int, int]:
        """Width and height as the phone's sensor has it, px: a lens is the same however the phone was held."""
        return self.size if self.turn % 2 == 0 else (self.size[1], self.size[0])


@dataclass(frozen=True)
class Shot:
    """One photo's part in the net."""

    name: str
    size: tuple[int, int]
    lens: int
    cards: tuple[CardSighting, ...]
    pose: Array  # (6,) start value
    corner_sd: float = CORNER_SD  # px
    borrowed: bool = False  # a photo of the next wall that shows cards of this one
    turn: int = 0  # quarter turns clockwise from the sensor's picture to the upright one

    def upright(self, lens: Array) -> tuple[Array, Array]:
        """The lens (5,) as it is in this upright picture, and its derivatives (5, 5) by the lens as on the sensor."""
        w, h = self.size[0] - 1, self.size[1] - 1
        turned, D = lens.copy(), np.eye(LENS)
        x, y = lens[1:3]
        turned[1:3] = ((x, y), (w - y, x), (w - x, h - y), (y, h - x))[self.turn]
        D[1:3, 1:3] = (((1, 0), (0, 1)), ((0, -1), (1, 0)), ((-1, 0), (0, -1)), ((0, 1), (-1, 0)))[self.turn]
        return turned, D


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
    way: Array  # (T, 2) unit vector from start to end where that is known beforehand; nothing makes it a distance


@dataclass(frozen=True)
class Linear:
    """Observations linear in the unknowns, `rows @ unknowns - value`: levels, ups, datum."""

    rows: Array  # (M, P)
    value: Array  # (M,)
    sd: Array  # (M,)

    def and_(self, other: "Linear") -> "Linear":
        """These and others."""
        pairs = ((self.rows, other.rows), (self.value, other.value), (self.sd, other.sd))
        return Linear(*(np.concatenate(pair) for pair in pairs))


@dataclass(frozen=True)
class Net:
    """All that goes into one adjustment."""

    shots: tuple[Shot, ...]
    lens_mean: Array  # (L, 5)
    lens_sd: Array  # (L, 5)
    cards: tuple[int, ...]  # numbers
    card_start: Array  # (C, 3): x, y [in], angle [rad]
    print_mean: Array  # (2,) printed over nominal, across and up
    print_root: Array  # (2, 2) R for which R (printed - mean) has unit covariance beforehand
    coordinates: Coordinates
    sights: Sights
    tapes: Tapes
    linear: Linear
    # Which coordinates are the wall's height and two slopes at each card; none for a wall taken as flat.
    bow: NDArray[np.intp] = field(default_factory=lambda: np.zeros((0, 3), np.intp))
    lens_keys: tuple[LensKey, ...] = ()  # what tells that two walls' photos are through one lens


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


def with_shot(net: Net, shot: Shot, key: LensKey, lens_mean: Array, lens_sd: Array) -> Net:
    """The net with one more photo; its lens is added unless the net has it.

    Parameters
    ----------
    shot
        Its `lens` is set here.
    key, lens_mean, lens_sd
        Its lens, (5,) each.
    """
    old = Slots.of(net)
    keys, mean, sd = net.lens_keys, net.lens_mean, net.lens_sd
    if key not in keys:
        keys, mean, sd = (*keys, key), np.vstack([mean, lens_mean]), np.vstack([sd, lens_sd])
    new = Slots(len(keys), old.shots + 1, old.cards, old.coordinates)
    columns = np.r_[0 : LENS * old.lenses, new.pose(0).start : new.pose(old.shots).start, new.card(0).start : new.size]

    def spread(rows: Array) -> Array:
        wide = np.zeros((*rows.shape[:-1], new.size))
        wide[..., columns] = rows
        return wide

    return replace(
        net,
        shots=(*net.shots, replace(shot, lens=keys.index(key))),
        lens_keys=keys,
        lens_mean=mean,
        lens_sd=sd,
        tapes=replace(net.tapes, forms=spread(net.tapes.forms)),
        linear=replace(net.linear, rows=spread(net.linear.rows)),
    )
