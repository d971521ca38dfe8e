"""Close-ups of plates, registers, casings and sheets on walls, drawn with known truth, and how snapping fares on them.

Each is drawn 5 times too fine in linear light (so that a pixel is the mean of what falls on it), then blurred, exposed,
sharpened and coded like a phone's picture by `tests.synthetic.develop`. A thing is a solid with eased edges: its front,
its eased rim and its sides are shaded by one lamp and the light of the room, and it throws a shadow on the wall.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

import cv2
import numpy as np

from capture.camera import Camera
from capture.record import GANG_SPACING, PLATE_HEIGHT, PLATE_WIDTH, TRAITS, At, Kind
from tests.synthetic import develop, look

FINE = 5  # samples a pixel, each way
SIZE = (480, 380)  # px
THUMB = 0.5  # in: a tap is off by up to this


@dataclass
class Solid:
    """A box on the wall with eased front edges: wall inches, turned about its middle by `angle` degrees."""

    left: float
    bottom: float
    right: float
    top: float
    proud: float
    ease: float = 0.05  # how far the eased edge reaches in, and down
    angle: float = 0.0
    paint: float = 0.75  # reflectance
    radius: float = 0.0  # of its corners

    def at(self, xy: np.ndarray, z: float) -> np.ndarray:
        """Wall points (N, 3) of points (N, 2) of the solid as if it hung straight."""
        c, s = np.cos(np.radians(self.angle)), np.sin(np.radians(self.angle))
        middle = np.array([self.left + self.right, self.bottom + self.top]) / 2
        turned = (np.asarray(xy, float) - middle) @ np.array([[c, s], [-s, c]]) + middle
        return np.column_stack([turned, np.full(len(turned), z)])

    def outline(self, inset: float, z: float) -> np.ndarray:
        """Its outline, drawn in by `inset`, counter-clockwise from the bottom left corner (N, 3)."""
        box = (self.left + inset, self.bottom + inset, self.right - inset, self.top - inset)
        return self.at(rounded(*box, max(self.radius - inset, 0.0)), z)

    @property
    def corners(self) -> np.ndarray:
        """The true corners at its projection, (4, 3): bottom left, bottom right, top right, top left."""
        return self.at(rounded(self.left, self.bottom, self.right, self.top, 0.0), self.proud)


def rounded(left: float, bottom: float, right: float, top: float, radius: float) -> np.ndarray:
    """A counter-clockwise rectangle with rounded corners, (N, 2)."""
    if radius <= 0:
        return np.array([(left, bottom), (right, bottom), (right, top), (left, top)], float)
    turns = np.linspace(np.pi, 1.5 * np.pi, 9)
    arc = radius * np.column_stack([np.cos(turns), np.sin(turns)])
    quarter = np.array(
        [[0, -1], [1, 0]]
    )  # a row times this is turned by a quarter, clockwise; its transpose turns back
    middles = ((left + radius, bottom + radius), (right - radius, bottom + radius), (right - radius, top - radius),
               (left + radius, top - radius))  # fmt: skip
    return np.vstack([arc @ np.linalg.matrix_power(quarter.T, k) + middle for k, middle in enumerate(middles)])


@dataclass
class Lamp:
    """One lamp far away, and the light of the room."""

    towards: np.ndarray  # (3,) unit vector from the wall to the lamp
    share: float  # of the light on the bare wall that the lamp gives
    soft: float  # in: blur of a shadow's edge for each inch that its edge stands off the wall

    def on(self, normal: np.ndarray) -> float:
        """Light on a face of this normal, 1 on the bare wall."""
        lit = max(0.0, float(normal @ self.towards)) / self.towards[2]
        return self.share * lit + (1 - self.share) * (0.75 + 0.25 * float(normal[2]))


@dataclass
class Scene:
    """A wall being painted: light (rows, columns) at `FINE` samples a pixel."""

    camera: Camera
    lamp: Lamp
    rng: np.random.Generator
    wall: float
    light: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        width, height = self.camera.size
        self.light = np.full((height * FINE, width * FINE), self.wall, np.float32)

    def polygon(self, points: np.ndarray, value: float | np.ndarray, cover: float = 1.0) -> None:
        """Paint a polygon of wall points (N, 3), with a value or with what another picture shows there."""
        where, mask = self.mask(points)
        here = self.light[where]
        here += cover * mask * ((value if np.isscalar(value) else value[where]) - here)

    def dim(self, points: np.ndarray, share: float, blur: float) -> None:
        """Take a share of the light away inside a polygon of wall points (N, 3), blurred by so many samples."""
        where, mask = self.mask(points, margin=int(3 * blur) + 1)
        self.light[where] *= 1 - share * cv2.GaussianBlur(mask, (0, 0), max(blur, 0.5))

    def mask(self, points: np.ndarray, margin: int = 0) -> tuple[tuple[slice, slice], np.ndarray]:
        """Rows and columns round a polygon of wall points, and where in them it lies; edges bend as the lens has it."""
        ahead = np.roll(points, -1, axis=0)
        t = np.linspace(0, 1, 8, endpoint=False)[None, :, None]
        dense = (points[:, None] * (1 - t) + ahead[:, None] * t).reshape(-1, 3)
        fine = (self.camera.project(dense) + 0.5) * FINE - 0.5
        low = np.clip(np.floor(fine.min(axis=0)).astype(int) - 1 - margin, 0, np.array(self.light.shape[::-1]) - 1)
        high = np.clip(np.ceil(fine.max(axis=0)).astype(int) + 2 + margin, low + 1, self.light.shape[::-1])
        mask = np.zeros((high - low)[::-1], np.float32)
        cv2.fillPoly(mask, [np.round((fine - low) * 256).astype(np.int32)], 1.0, shift=8)
        return (slice(low[1], high[1]), slice(low[0], high[0])), mask

    def shade(self, solid: Solid) -> None:
        """The shadow that a solid throws on the wall, and the dark of the joint round it."""
        shift = -self.lamp.towards[:2] / self.lamp.towards[2]
        low, high = (solid.outline(0.0, 0.0) + np.append(shift * z, 0) for z in (0.0, solid.proud))
        hull = cv2.convexHull(np.vstack([low, high])[:, :2].astype(np.float32)).reshape(-1, 2).astype(float)
        across = solid.proud * self.per_inch
        self.dim(np.column_stack([hull, np.zeros(len(hull))]), self.lamp.share, self.lamp.soft * across)
        self.dim(low, 0.25, 0.3 * across)

    @property
    def middle(self) -> np.ndarray:
        """The wall point (3,) in the picture's middle."""
        return self.camera.meet(np.array([self.camera.size]) / 2)[0]

    @property
    def per_inch(self) -> float:
        """Fine samples an inch in the picture's middle."""
        a, b = self.camera.project(self.middle + np.array([(0, 0, 0), (0, 1, 0)]))
        return float(np.linalg.norm(a - b)) * FINE

    def put(self, solid: Solid) -> None:
        """Paint a solid: what faces away from the camera is covered by what faces it."""
        self.shade(solid)
        rim, foot = solid.outline(0.0, solid.proud - solid.ease), solid.outline(0.0, 0.0)
        front = solid.outline(solid.ease, solid.proud)
        for low, high in ((foot, rim), (rim, front)):
            for i in range(len(low)):
                quad = np.array([low[i], low[i - 1], high[i - 1], high[i]])[::-1]
                normal = np.cross(quad[1] - quad[0], quad[3] - quad[0])
                size = np.linalg.norm(normal)
                if size < 1e-9:
                    continue
                normal = (
                    normal / size * np.sign(normal @ (quad.mean(axis=0) - [*solid.corners[:, :2].mean(axis=0), -9]))
                )
                if normal @ (self.camera.centre - quad.mean(axis=0)) > 0:
                    self.polygon(quad, solid.paint * self.lamp.on(normal))
        self.polygon(front, solid.paint * self.lamp.on(np.array([0.0, 0.0, 1.0])))

    def xy(self) -> np.ndarray:
        """Wall points of a coarse grid, resized to the fine one: (rows, columns, 2)."""
        width, height = self.camera.size
        step = 8
        u, v = np.meshgrid(np.arange(-step, width + 2 * step, step), np.arange(-step, height + 2 * step, step))
        coarse = self.camera.meet(np.column_stack([u.ravel(), v.ravel()]))[:, :2].reshape(*u.shape, 2)
        fine_u = ((np.arange(width * FINE) + 0.5) / FINE - 0.5 + step) / step
        fine_v = ((np.arange(height * FINE) + 0.5) / FINE - 0.5 + step) / step
        at = [a.astype(np.float32) for a in np.meshgrid(fine_u, fine_v)]
        return np.dstack([cv2.remap(coarse[..., k].astype(np.float32), *at, cv2.INTER_LINEAR) for k in (0, 1)])


@dataclass(frozen=True)
class Closeup:
    """A picture, what was tapped in it, and the truth."""

    category: str
    kind: Kind
    camera: Camera
    gray: np.ndarray
    taps: dict[At, tuple[float, float]]
    proud: float
    corners: np.ndarray  # (4, 3) true corners; of an upright line the two ends of its edge, (2, 3)
    gangs: int = 1


# ---- what is on a plate ----


def dress(scene: Scene, plate: Solid, kind: Kind, gangs: int) -> None:
    """Openings, slots, screws and buttons on a face."""
    line = plate.paint * scene.rng.uniform(0.2, 0.8)
    middle = (plate.left + plate.right) / 2, (plate.bottom + plate.top) / 2
    for gang in range(gangs):
        x = middle[0] + float(GANG_SPACING) * (gang - (gangs - 1) / 2)
        if kind is Kind.RECEPTACLE:
            _duplex(scene, plate, x, middle[1], line)
        elif kind is Kind.SWITCH:
            _rocker(scene, plate, x, middle[1], line)
        elif kind is Kind.JACK:
            _face(scene, plate, (x - 0.33, middle[1] - 0.33, x + 0.33, middle[1] + 0.33), line)
    if kind is Kind.THERMOSTAT:
        w, h = plate.right - plate.left, plate.top - plate.bottom
        left, bottom = plate.left + 0.25 * w, plate.bottom + 0.4 * h
        _face(scene, plate, (left, bottom, left + 0.5 * w, bottom + 0.4 * h), line)
    if kind in (Kind.REGISTER, Kind.RETURN_GRILLE):
        _louvres(scene, plate)


def _face(
    scene: Scene, plate: Solid, box: tuple[float, float, float, float], value: float, radius: float = 0.0
) -> None:
    scene.polygon(plate.at(rounded(*box, radius), plate.proud), value)


def _duplex(scene: Scene, plate: Solid, x: float, y: float, line: float) -> None:
    shape = [(np.cos(a), np.clip(0.83 * np.sin(a), -0.7, 0.7)) for a in np.linspace(0, 2 * np.pi, 40, endpoint=False)]
    for up in (-0.765, 0.765):  # 1.53 in from face to face (ANSI/NEMA WD 6, from memory)
        for grown, value in ((0.70, line), (0.66, plate.paint)):
            scene.polygon(plate.at(np.array(shape) * grown + (x, y + up), plate.proud), value)
        for left, right in ((-0.28, -0.2), (0.2, 0.28)):
            _face(scene, plate, (x + left, y + up - 0.05, x + right, y + up + 0.28), 0.03)
        _face(scene, plate, (x - 0.09, y + up - 0.36, x + 0.09, y + up - 0.18), 0.03)
    _face(scene, plate, (x - 0.12, y - 0.12, x + 0.12, y + 0.12), 0.4, 0.12)


def _rocker(scene: Scene, plate: Solid, x: float, y: float, line: float) -> None:
    for grown, value in ((0.0, line), (0.035, plate.paint * scene.rng.uniform(0.9, 1.05))):  # 1.31 × 2.63 in (WD 6)
        _face(scene, plate, (x - 0.655 + grown, y - 1.315 + grown, x + 0.655 - grown, y + 1.315 - grown), value)


def _louvres(scene: Scene, plate: Solid) -> None:
    rim = scene.rng.uniform(0.6, 1.1)
    low, high = plate.bottom + rim, plate.top - rim
    for bar in ((plate.left + rim, (plate.left + plate.right) / 2 - 0.15), ((plate.left + plate.right) / 2 + 0.15,
                plate.right - rim)):  # fmt: skip
        for y in np.arange(low, high - 0.2, 0.42):
            _face(scene, plate, (bar[0], y, bar[1], min(y + 0.22, high)), plate.paint * 0.12)


# ---- what else is on the wall ----


def texture(scene: Scene) -> None:
    """The roller's stipple, and light that falls off across the wall."""
    height, width = scene.light.shape
    coarse = scene.rng.normal(0, 1, (height // 8, width // 8)).astype(np.float32)
    stipple = cv2.resize(cv2.GaussianBlur(coarse, (0, 0), 0.8), (width, height), interpolation=cv2.INTER_LINEAR)
    slope = scene.rng.uniform(-0.12, 0.12, 2)
    ramp = slope[0] * np.linspace(-1, 1, width)[None] + slope[1] * np.linspace(-1, 1, height)[:, None]
    scene.light *= (1 + scene.rng.uniform(0.005, 0.02) * stipple) * (1 + ramp)


def wallpaper(scene: Scene) -> None:
    """Stripes, or a pattern of leaves, or plaster as the trowel left it."""
    x, y = np.moveaxis(scene.xy(), -1, 0)
    depth, repeat, phase = scene.rng.uniform(0.04, 0.15), scene.rng.uniform(0.7, 3.0), scene.rng.uniform(0, 9)
    which = scene.rng.integers(3)
    if which == 0:
        pattern = np.sign(np.sin(2 * np.pi * x / repeat + phase))
    elif which == 1:
        pattern = np.sin(2 * np.pi * x / repeat + phase) * np.sin(2 * np.pi * y / repeat) + 0.5 * np.sin(9 * x + 7 * y)
    else:
        small = scene.rng.normal(0, 1, (60, 80)).astype(np.float32)
        pattern = cv2.resize(cv2.GaussianBlur(small, (0, 0), 1.0), x.shape[::-1], interpolation=cv2.INTER_CUBIC) * 3
    scene.light *= 1 + depth * pattern


def moulding(scene: Scene, bottom: float, top: float, proud: float, upright: bool = False) -> None:
    """A rail, base or casing that runs through the picture: three bands of a profile with its shadow."""
    paint = scene.rng.uniform(0.55, 0.85)
    here = scene.middle[1 if upright else 0]
    ends = (here - 20.0, here + 20.0)
    steps = np.cumsum([0, *scene.rng.dirichlet([3, 3, 3])]) * (top - bottom) + bottom
    body = Solid(
        *((bottom, ends[0], top, ends[1]) if upright else (ends[0], bottom, ends[1], top)), proud, 0.03, 0, paint
    )
    scene.put(body)
    for low, high in pairwise(steps):
        tilt = scene.rng.uniform(-0.7, 0.7)
        normal = np.array([np.sin(tilt), 0, np.cos(tilt)] if upright else [0, np.sin(tilt), np.cos(tilt)])
        box = (low, ends[0], high, ends[1]) if upright else (ends[0], low, ends[1], high)
        inset = body.ease if low == steps[0] else 0.0
        box = (box[0] + inset * upright, box[1] + inset * (not upright), *box[2:])
        scene.polygon(body.at(rounded(*box, 0), proud), paint * scene.lamp.on(normal))


def cord(scene: Scene, plate: Solid) -> None:
    """A plug in the lower outlet and its cord, hanging over the plate's lower edge, with its shadow."""
    paint, thick = scene.rng.choice([0.03, 0.25, 0.8]), scene.rng.uniform(0.18, 0.3)
    x, y = (plate.left + plate.right) / 2, (plate.bottom + plate.top) / 2 - 0.765
    sway = scene.rng.uniform(-1.6, 1.6)
    t = np.linspace(0, 1, 40)
    path = np.column_stack([x + sway * t**2 + 0.3 * np.sin(5 * t), y - 0.4 - 7 * t])
    across = np.column_stack([-np.gradient(path[:, 1]), np.gradient(path[:, 0])])
    across *= thick / 2 / np.linalg.norm(across, axis=1)[:, None]
    strip = np.vstack([path + across, (path - across)[::-1]])
    drop = -scene.lamp.towards[:2] / scene.lamp.towards[2] * 0.5
    scene.dim(np.column_stack([strip + drop, np.zeros(len(strip))]), 0.6 * scene.lamp.share, 3 * FINE)
    scene.polygon(np.column_stack([strip, np.full(len(strip), 0.5)]), paint)
    body = Solid(x - 0.5, y - 0.6, x + 0.5, y + 0.45, 1.1, 0.1, plate.angle, paint)
    for value, z in ((paint * 0.6, plate.proud), (paint, 1.1)):
        scene.polygon(body.outline(0.0, z), value)


def smear(scene: Scene, plate: Solid, wall: np.ndarray) -> None:
    """Wall paint dragged over two edges of a plate: patches of every width up to 3/32 in, part of them thin."""
    for side in scene.rng.choice(4, 2, replace=False):
        low, high = (plate.bottom, plate.top) if side < 2 else (plate.left, plate.right)
        edge = (plate.left, plate.right, plate.bottom, plate.top)[side]
        inward = 1 if side in (0, 2) else -1
        for start in np.arange(low, high - 0.3, 0.3):
            if scene.rng.random() < 0.45:
                continue
            reach, cover = scene.rng.uniform(0.01, 0.09), scene.rng.uniform(0.4, 1.0)
            a = np.linspace(start, start + scene.rng.uniform(0.15, 0.3), 7)
            ragged = edge + inward * reach * (1 + 0.3 * scene.rng.normal(0, 1, 7))
            line = np.column_stack([np.append(a, a[::-1]), np.append(ragged, np.full(7, edge - inward * 0.05))])
            points = plate.at(line[:, ::-1] if side < 2 else line, plate.proud)
            scene.polygon(points, wall, cover)


# ---- the categories ----


def _camera(rng: np.random.Generator, middle: tuple[float, float], width: float = 5.0) -> Camera:
    """A phone 45 in or more off the wall, up to 30 degrees aside of what lies in the middle of its picture."""
    distance = rng.uniform(max(45.0, 8.2 * width), max(110.0, 10.5 * width))
    aside, above = np.tan(np.radians(rng.uniform(-30, 30))) * distance, rng.uniform(-5, 40)
    at = (middle[0] + aside, middle[1] + above, distance)
    turned = {"yaw": rng.uniform(-12, 12), "pitch": rng.uniform(-3, 8), "roll": rng.uniform(-1.5, 1.5)}
    lens = {"f": 2917.0, "k1": rng.uniform(0.0, 0.06), "k2": rng.uniform(-0.07, 0.0)}
    plain = look(SIZE, at=at, centre=(0, 0), **turned, **lens)
    u, v = plain.project(np.array([[*middle, 0.0]]))[0] - (np.array(SIZE) - 1) / 2
    return look(SIZE, at=at, centre=(-u + rng.uniform(-15, 15), -v + rng.uniform(-15, 15)), **turned, **lens)


def _lamp(rng: np.random.Generator, hard: bool = False) -> Lamp:
    aside, up = rng.uniform(-1.2, 1.2), rng.uniform(-0.2, 1.5)
    towards = np.array([aside, up, 1.0])
    share = rng.uniform(0.6, 0.85) if hard else rng.uniform(0.1, 0.6)
    return Lamp(towards / np.linalg.norm(towards), share, 0.03 if hard else rng.uniform(0.1, 0.8))


PLATES = (Kind.RECEPTACLE, Kind.SWITCH, Kind.JACK)


def _plate(rng: np.random.Generator, gangs: int, angle: float = 0.0, size: tuple[float, float] | None = None) -> Solid:
    width, height = size or (float(PLATE_WIDTH), float(PLATE_HEIGHT))
    width += float(GANG_SPACING) * (gangs - 1) + rng.normal(0, 0.01)
    height += rng.normal(0, 0.01)
    x, y = rng.uniform(30, 60), rng.uniform(14, 16)
    proud = float(np.clip(rng.normal(5 / 32, 0.04), 0.08, 0.3))
    box = (x - width / 2, y - height / 2, x + width / 2, y + height / 2)
    return Solid(*box, proud, min(rng.uniform(0.02, 0.08), proud / 2), angle, rng.uniform(0.65, 0.85))


@dataclass(frozen=True)
class Setting:
    """What a category does to a scene: before the plate is put, and after."""

    before: Callable[[Scene, Solid], None] = lambda scene, plate: None
    after: Callable[[Scene, Solid, np.ndarray], None] = lambda scene, plate, wall: None
    hard: bool = False
    wall: tuple[float, float] = (0.2, 0.6)
    angle: float = 0.0
    sizes: tuple[tuple[float, float], ...] = ()
    plain: bool = True  # hangs by no more than half a degree off


def _near_mouldings(scene: Scene, plate: Solid) -> None:
    gap = scene.rng.uniform(0.3, 2.0)
    which = scene.rng.integers(3)
    if which == 0:
        moulding(scene, plate.top + gap, plate.top + gap + scene.rng.uniform(1, 2.5), 0.7)
    elif which == 1:
        moulding(scene, plate.right + gap, plate.right + gap + 3.5, 0.69, upright=True)
    if which != 1 or scene.rng.random() < 0.5:
        moulding(scene, plate.bottom - gap - 5, plate.bottom - gap, 0.56)


def _neighbour(scene: Scene, plate: Solid) -> None:
    gap = scene.rng.uniform(0.25, 1.5)
    shift = (plate.right - plate.left + gap) * scene.rng.choice([-1, 1])
    other = replace(plate, left=plate.left + shift, right=plate.right + shift, angle=0.0)
    scene.put(other)
    dress(scene, other, Kind.SWITCH, 1)


SETTINGS: dict[str, Setting] = {
    "plain": Setting(),
    "near mouldings": Setting(before=_near_mouldings),
    "hard shadow": Setting(hard=True),
    "cord plugged in": Setting(after=lambda scene, plate, wall: cord(scene, plate)),
    "paint-smeared": Setting(after=smear),
    "wallpaper, rough plaster": Setting(before=lambda scene, plate: wallpaper(scene)),
    "white on white": Setting(wall=(0.6, 0.85)),
    "dark plate": Setting(wall=(0.5, 0.85)),
    "crooked": Setting(angle=2.0),
    "midway, oversize": Setting(sizes=((3.13, 4.88), (3.5, 5.25))),
    "two side by side": Setting(before=_neighbour),
}


def plate_closeup(category: str, seed: int) -> Closeup:
    """One plate in one setting."""
    rng, setting = np.random.default_rng([seed, *category.encode()]), SETTINGS[category]
    kind = Kind.RECEPTACLE if "cord" in category else Kind(rng.choice([k.value for k in PLATES]))
    gangs = 1 if kind is not Kind.SWITCH or "side" in category else int(rng.integers(1, 4))
    angle = rng.uniform(0.5, setting.angle) * rng.choice([-1, 1]) if setting.angle else rng.normal(0, 0.2)
    plate = _plate(rng, gangs, angle, setting.sizes[rng.integers(len(setting.sizes))] if setting.sizes else None)
    if category == "dark plate":
        plate.paint = rng.uniform(0.04, 0.3)
    middle = ((plate.left + plate.right) / 2, (plate.bottom + plate.top) / 2)
    scene = Scene(_camera(rng, middle), _lamp(rng, setting.hard), rng, rng.uniform(*setting.wall))
    texture(scene)
    setting.before(scene, plate)
    wall = scene.light.copy()
    scene.put(plate)
    dress(scene, plate, kind, gangs)
    setting.after(scene, plate, wall)
    return finish(category, kind, scene, plate, gangs)


def solid_closeup(category: str, seed: int) -> Closeup:
    """A register or grille over a base, or a thermostat or access panel."""
    rng = np.random.default_rng([seed, *category.encode()])
    kinds = (Kind.REGISTER, Kind.RETURN_GRILLE) if "register" in category else (Kind.THERMOSTAT, Kind.ACCESS_PANEL)
    kind = kinds[rng.integers(2)]
    low, high = {
        Kind.REGISTER: ((9, 4), (15, 8)), Kind.RETURN_GRILLE: ((10, 8), (16, 12)),
        Kind.THERMOSTAT: ((3.2, 2.6), (5.5, 4.5)), Kind.ACCESS_PANEL: ((6, 6), (14, 12)),
    }[kind]  # fmt: skip
    width, height = rng.uniform(low, high)
    proud, ease = float(TRAITS[kind].projection) * rng.uniform(0.9, 1.1), rng.uniform(0.015, 0.04)
    radius = rng.uniform(0.2, 0.5) if kind is Kind.THERMOSTAT else 0.0
    x, y = rng.uniform(30, 60), (58.0 if kind is Kind.THERMOSTAT else rng.uniform(0.3, 2.0) + 4 + height / 2)
    solid = Solid(x - width / 2, y - height / 2, x + width / 2, y + height / 2, proud, ease, rng.normal(0, 0.2),
                  rng.uniform(0.6, 0.8), radius)  # fmt: skip
    scene = Scene(_camera(rng, (x, y), max(width, 1.3 * height)), _lamp(rng), rng, rng.uniform(0.2, 0.6))
    texture(scene)
    if kind is not Kind.THERMOSTAT:
        moulding(scene, -1.0, 4.0, 0.56)
    scene.put(solid)
    dress(scene, solid, kind, 1)
    return finish(category, kind, scene, solid, 1)


def sheet_closeup(size: tuple[float, float], radius: float, thick: float, seed: int, centred: bool) -> Closeup:
    """A sheet or card of a published size [in], held flat against the wall."""
    rng = np.random.default_rng([seed, int(1000 * size[0])])
    x, y = rng.uniform(30, 60), rng.uniform(30, 50)
    box = (x - size[0] / 2, y - size[1] / 2, x + size[0] / 2, y + size[1] / 2)
    sheet = Solid(*box, thick, 0.0, rng.normal(0, 0.4), 0.8, radius)
    scene = Scene(_camera(rng, (x, y), max(size)), _lamp(rng), rng, rng.uniform(0.2, 0.55))
    texture(scene)
    scene.put(sheet)
    return replace(finish("sheet", Kind.OTHER, scene, sheet, 1, centred), proud=thick)


def bare_closeup(seed: int) -> Closeup:
    """A wall with nothing on it but paint, a pattern or mouldings; tapped as if a receptacle were there."""
    rng = np.random.default_rng([seed, 77])
    nothing = _plate(rng, 1)
    middle = ((nothing.left + nothing.right) / 2, (nothing.bottom + nothing.top) / 2)
    scene = Scene(_camera(rng, middle), _lamp(rng), rng, rng.uniform(0.2, 0.8))
    texture(scene)
    (lambda *_: None, lambda scene, _: wallpaper(scene), _near_mouldings)[seed % 3](scene, nothing)
    return finish("bare wall", Kind.RECEPTACLE, scene, nothing, 1)


def casing_closeup(category: str, seed: int) -> Closeup:
    """The outer edge of a door's casing, or the wall's end at an inside corner; tapped at one point of it."""
    rng = np.random.default_rng([seed, *category.encode()])
    x, y = rng.uniform(30, 60), rng.uniform(14, 40)
    scene = Scene(_camera(rng, (x, y)), _lamp(rng), rng, rng.uniform(0.2, 0.6))
    texture(scene)
    corner = bool(seed % 4 == 0)
    if corner:
        ahead = np.array([(x, y - 20, 0), (x, y + 20, 0), (x, y + 20, 25), (x, y - 20, 25)], float)
        scene.polygon(ahead, scene.wall * scene.lamp.on(np.array([-1.0, 0, 0])))
        proud = 0.0
    else:
        moulding(scene, x, x + 3.5, proud := 0.6875 + rng.normal(0, 0.02), upright=True)
    ends = np.array([(x, y - 4, proud), (x, y + 4, proud)])
    tap = _tapped(scene.camera, np.array([[x, y + rng.uniform(-2, 2), proud]]), rng)[0]
    kind = Kind.WALL_END if corner else Kind.CASING_EDGE
    return Closeup(category, kind, scene.camera, _developed(scene), {At.POINT: tuple(tap)}, proud, ends)


def finish(category: str, kind: Kind, scene: Scene, solid: Solid, gangs: int, centred: bool | None = None) -> Closeup:
    """Develop, and tap: every second one in its middle, the others on two opposite corners."""
    true = scene.camera.project(solid.corners)
    if scene.rng.random() < 0.5 if centred is None else centred:
        middle = solid.corners.mean(axis=0)[None]
        taps = {At.CENTRE: tuple(_tapped(scene.camera, middle, scene.rng)[0])}
    else:
        top_left, bottom_right = _tapped(scene.camera, solid.corners[[3, 1]], scene.rng)
        taps = {At.TOP_LEFT: tuple(top_left), At.BOTTOM_RIGHT: tuple(bottom_right)}
    assert np.all(true > 3)
    assert np.all(true < np.array(SIZE) - 4), "the thing must lie in the picture"
    usual = float(TRAITS[kind].projection)
    return Closeup(category, kind, scene.camera, _developed(scene), taps, usual, solid.corners, gangs)


def _tapped(camera: Camera, points: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Pixels (N, 2) of wall points (N, 3), each off by up to `THUMB` in any direction."""
    turn, off = rng.uniform(0, 2 * np.pi, len(points)), THUMB * np.sqrt(rng.uniform(0, 1, len(points)))
    return camera.project(points + np.column_stack([off * np.cos(turn), off * np.sin(turn), np.zeros(len(points))]))


def _developed(scene: Scene) -> np.ndarray:
    width, height = scene.camera.size
    linear = scene.light.reshape(height, FINE, width, FINE).mean(axis=(1, 3))
    rng = scene.rng
    look = {"blur": rng.uniform(0.6, 1.3), "exposure": rng.uniform(0.7, 1.25), "noise": rng.uniform(0.8, 2.5)}
    return develop(
        linear, **look, sharpen=rng.uniform(0, 0.6), quality=int(rng.integers(85, 96)), seed=int(rng.integers(1e6))
    )


MAKERS: dict[str, Callable[[str, int], Closeup]] = {
    **dict.fromkeys(SETTINGS, plate_closeup),
    "register, grille": solid_closeup,
    "thermostat, access panel": solid_closeup,
    "casing edge, wall end": casing_closeup,
}


def closeups(each: int, first: int = 0) -> Iterator[Closeup]:
    """`each` close-ups of every category."""
    for category, make in MAKERS.items():
        for seed in range(first, first + each):
            yield make(category, seed)
