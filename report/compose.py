"""The planned frames put into a photo as if they had been there when it was taken.

In this order: cards off; the wall's light learnt; the members met by the camera's own rays, painted, lit and shaded;
what stays on the wall or stands before it left in front; boxes that move shown where they go.

Frames: wall (in; x right, y up, z out of the wall), image (px; the centre of the first pixel at (0, 0)).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import reduce

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from capture.record import Kind
from capture.survey import Feature, WallSurvey
from layout.paint import USUAL, srgb_of
from layout.plan import WallPlan
from report.erase import grain_of, without_cards
from report.in_front import RIM, covered_by, drawn_over, kept_in_front, widened
from report.light import LUMA, Field, bare_wall, find_lamp, to_linear, to_srgb, usual_white, white_over_wall
from report.rays import each_of, rays_of, samples_of
from report.relief import Met, meet_shown, reach_of, reaches_of
from report.shade import Shade, shade_of
from report.solids import Box, Solids, solids_of
from report.views import View, edges

Array = NDArray[np.float64]
Floats = NDArray[np.float32]
Bools = NDArray[np.bool_]
Pixels = NDArray[np.uint8]

BAND = 64  # rows drawn at a time, which the processor's cache holds; a multiple of `rays.STEP`
COARSE = 8  # px between places where it is looked whether the wall is bare
AROUND = np.ones((3, 3), np.uint8)  # px: a pixel and those next to it
STEEP = 0.05  # of the light: where the shade of pixels next to each other differs by more, it is worked out finely
KNEE = 0.8  # of linear light: above it bright paint rolls off as a phone's tone curve does
USUAL_CEILING = 96.0  # in: a wall is looked at so far up where its height is not known
SHARP = 0.3  # px: a picture blurred by less is sharp
SILL = 0.35  # in: the dark line where the wainscot meets the floor
SILL_DARK = 0.55


@dataclass(frozen=True)
class OnWall:
    """What is planned on one wall that a photo shows."""

    view: View
    plan: WallPlan
    moves: Mapping[str, float] = field(default_factory=dict)  # inches to the right, by the name of the box that moves
    behind: float = 0.0  # thickness of a sheet behind the frame, inches


@dataclass(frozen=True)
class Scene:
    """A photo, and what is known of it; all pixels are those of `picture`."""

    picture: Image.Image
    walls: tuple[OnWall, ...]  # the one that the photo is of comes first
    sheets: tuple[Array, ...] = ()  # (4, 2) where cards hang
    in_front: tuple[Array, ...] = ()  # (N, 2) what stands before the walls
    paint: str = USUAL
    blur: float = 0.0  # how unsharp the picture is, px


def composed(scene: Scene) -> Image.Image:
    """The photo with the planned frames in it, of the same size.

    Where nothing of a wall is seen bare, so that its light is not known, that wall is left as it is.
    """
    photo = np.asarray(scene.picture.convert("RGB"))
    standing = [polygon for on in scene.walls for polygon in _standing(on).values()]
    stays = drawn_over((*scene.in_front, *standing), photo.shape)
    covered = widened(stays | drawn_over(scene.sheets, photo.shape), 2 + RIM * photo.shape[1])
    fields = [bare_wall(photo, covered, on.view, _extent(on.plan.survey)) for on in scene.walls]
    lit = [(on, wall) for on, wall in zip(scene.walls, fields, strict=True) if wall is not None]
    if not lit:
        return scene.picture
    grain = grain_of(photo, _bare(*lit[0], covered))
    clean = without_cards(photo, scene.sheets, stays, grain)
    layers = _layers(scene, lit, photo)
    picture = _laid_on(clean, layers, grain)
    for on, wall in lit:
        picture = _hung_again(on, wall, photo, clean, picture)
    return Image.fromarray(kept_in_front(lit[0][0].view, clean, picture, lit[0][1], scene.in_front))


# The members.


@dataclass(frozen=True)
class Layer:
    """The members of one wall over a part of the picture."""

    corner: tuple[int, int]  # its first column and row
    light: Floats  # (h, w, 3) linear light times cover
    cover: Floats  # (h, w) 0 to 1
    far: Floats  # (h, w) inches from the eye

    @property
    def rows(self) -> slice:
        """Of the picture."""
        return slice(self.corner[1], self.corner[1] + self.cover.shape[0])

    @property
    def columns(self) -> slice:
        """Of the picture."""
        return slice(self.corner[0], self.corner[0] + self.cover.shape[1])

    def of(self, part: "Layer") -> tuple[Floats, Floats, Floats]:
        """Light, cover and distance where a layer within this one lies, to be written to."""
        column, row = part.corner[0] - self.corner[0], part.corner[1] - self.corner[1]
        window = slice(row, row + part.cover.shape[0]), slice(column, column + part.cover.shape[1])
        return self.light[window], self.cover[window], self.far[window]


def _layers(scene: Scene, lit: Sequence[tuple[OnWall, Field]], photo: Pixels) -> list[Layer]:
    """The members of every wall; the light's colour on a wall without a card is that on the others."""
    whites = [white_over_wall(photo, scene.sheets, on.view, wall) for on, wall in lit]
    told = [white for white in whites if white is not None]
    found = []
    for (on, wall), white in zip(lit, whites, strict=True):
        if on.plan.frames:
            usual = np.median(told, axis=0) if told else usual_white(wall)
            found.append(_rendered(scene, on, wall, usual if white is None else white))
    return [layer for layer in found if layer is not None]


def _rendered(scene: Scene, on: OnWall, wall: Field, white: Array) -> Layer | None:
    """The members of a wall, painted and lit; None where the picture shows none of them."""
    solids = solids_of(on.plan, on.behind)
    corner, size = _seen_part(on.view, solids.extent, solids.front, scene.picture.size)
    if min(size) < 1:
        return None
    colour = to_linear(np.array(srgb_of(scene.paint)))
    seen = _seen_along(on.view, solids, corner, size)
    shade = shade_of(solids, find_lamp(wall), float(colour @ LUMA), _proud(on), seen)
    reaches, tint = reaches_of(solids, on.view), (white * colour).astype(np.float32)
    total, cover = np.empty((size[1], size[0], 3), np.float32), np.empty((size[1], size[0]), np.float32)
    far = np.empty_like(cover)
    for start in range(0, size[1], BAND):
        rows, first = slice(start, min(start + BAND, size[1])), (corner[0], corner[1] + start)
        met = meet_shown(reaches, samples_of(on.view, first, (size[0], rows.stop - start)), first)
        x, y, share, cover[rows] = _shaded(met, shade)
        total[rows] = _rolled(wall.at(x, y) * tint * share[..., None], cover[rows])
        far[rows] = _far(on.view, x, y)
    if not cover.any():
        return None
    if scene.blur > SHARP:
        cover, total = (np.asarray(cv2.GaussianBlur(part, (0, 0), scene.blur), np.float32) for part in (cover, total))
    return Layer(corner, total, cover, far)


def _seen_along(view: View, solids: Solids, corner: tuple[int, int], size: tuple[int, int]) -> tuple[float, float]:
    """From where to where along the wall a window of the picture shows it, inches: the rays round its rim tell."""
    rays = [rays_of(view, at, side) for at, side in (
        (corner, (size[0], 1)), ((corner[0], corner[1] + size[1] - 1), (size[0], 1)),
        (corner, (1, size[1])), ((corner[0] + size[0] - 1, corner[1]), (1, size[1])),
    )]  # fmt: skip
    x = np.concatenate([ray.at(z)[0].ravel() for ray in rays for z in (0.0, solids.front)])
    left, _, right, _ = solids.extent
    return float(np.clip(x.min(), left, right)), float(np.clip(x.max(), left, right))


def _shaded(met: Met, shade: Shade) -> tuple[Floats, Floats, Floats, Floats]:
    """Where on the wall each pixel is, the share of the light there that it sends on, and how far it is covered.

    Shade is worked out once where all samples of a pixel and of those next to it in its band meet one face on which it
    changes little; else for each sample.
    """
    z = np.maximum(met.z[0], 0)
    x, y = met.rays.middle.at(z)
    cover = (met.side[0] > 0).astype(np.float32)
    share = shade.at(x, y) * _sill(y) * cover
    edge = cv2.dilate(met.z.max(axis=0), AROUND) != cv2.erode(met.z.min(axis=0), AROUND)
    mixed = np.flatnonzero(edge | (cv2.morphologyEx(share, cv2.MORPH_GRADIENT, AROUND) > STEEP))
    z, side = np.maximum(each_of(met.z, mixed), 0), each_of(met.side, mixed)
    along, up = met.rays.of(mixed).at(z)
    share.put(mixed, (shade.of(along, up, z, side) * _sill(up)).mean(axis=0))
    cover.put(mixed, (side > 0).mean(axis=0))
    return x, y, share, cover


def _far(view: View, x: Floats, y: Floats) -> Floats | float:
    """How far the members are from the eye, inches; only to tell which of two walls is nearer."""
    if not np.isfinite(view.eye).all():
        return 0.0
    across, up, off = view.eye.tolist()
    return np.asarray(np.sqrt((x - across) ** 2 + (y - up) ** 2 + off**2), np.float32)


def _sill(y: Floats) -> Floats:
    """Less light in the joint between wainscot and floor."""
    return np.asarray(1 - (1 - SILL_DARK) * np.clip(1 - y / SILL, 0, 1) ** 2, np.float32)


def _rolled(light: Floats, cover: Floats) -> Floats:
    """Light, times cover, that a phone would not clip: above the knee ever less, never over 1."""
    room = 1 - KNEE
    bright = np.flatnonzero(light > KNEE * cover[..., None])
    full = cover.take(bright // 3)
    rolled = full * (KNEE + room * (1 - np.exp(-(light.take(bright) / full - KNEE) / room)))
    light.put(bright, rolled)
    return light


def _seen_part(
    view: View, extent: tuple[float, float, float, float], front: float, size: tuple[int, int]
) -> tuple[tuple[int, int], tuple[int, int]]:
    """First pixel and size of the part of the picture that the members can be in."""
    left, bottom, right, top = extent
    flat = np.array([(left, bottom), (right, bottom), (right, top), (left, top)])
    pixels, good = view.pixels(np.concatenate([edges(np.column_stack([flat, np.full(4, z)])) for z in (0.0, front)]))
    if not good.any():
        return (0, 0), (0, 0)
    low, high = reach_of(pixels, good)
    low = np.clip(np.floor(low), 0, size).astype(int)
    high = np.clip(np.ceil(high) + 1, 0, size).astype(int)
    return (int(low[0]), int(low[1])), (int(high[0] - low[0]), int(high[1] - low[1]))


def _laid_on(clean: Pixels, layers: Sequence[Layer], grain: Floats) -> Pixels:
    """The picture with the members over it, in linear light, under the photo's own grain.

    Two walls that meet within a pixel share it between them: nothing of the old wall shows in their joint.
    """
    if not layers:
        return clean
    whole = reduce(_joined, layers)
    window = whole.rows, whole.columns
    picture = clean.copy()
    old, new, grain = clean[window], picture[window], grain[window]
    for start in range(0, len(new), BAND):
        rows = slice(start, start + BAND)
        columns = np.flatnonzero(whole.cover[rows].any(axis=0))
        if len(columns):
            part = rows, slice(columns[0], columns[-1] + 1)
            share = np.clip(whole.cover[part], 0, 1)[..., None]
            mixed = to_srgb(to_linear(old[part]) * (1 - share) + whole.light[part])
            new[part] = cv2.add(mixed, grain[part] * share, dtype=cv2.CV_8U)
    return picture


def _joined(one: Layer, other: Layer) -> Layer:
    """Two walls' members over all that either covers."""
    corner = min(one.corner[0], other.corner[0]), min(one.corner[1], other.corner[1])
    right, bottom = max(one.columns.stop, other.columns.stop), max(one.rows.stop, other.rows.stop)
    size = bottom - corner[1], right - corner[0]
    nothing = np.zeros((*size, 3), np.float32), np.zeros(size, np.float32), np.full(size, np.inf, np.float32)
    whole = Layer(corner, *nothing)
    light, cover, far = whole.of(one)
    light[:], cover[:], far[:] = one.light, one.cover, np.where(one.cover > 0, one.far, np.inf)
    light, cover, far = whole.of(other)
    room = np.maximum(1 - other.cover, 0) / np.maximum(cover, 1e-6)
    kept = np.where(other.far < far, np.minimum(room, 1), 1).astype(np.float32)
    cover *= kept
    share = np.minimum(1, np.maximum(1 - cover, 0) / np.maximum(other.cover, 1e-6))
    light *= kept[..., None]
    light += other.light * share[..., None]
    cover += other.cover * share
    np.copyto(far, np.minimum(other.far, far), where=other.cover > 0)
    return whole


# What stays in front.


def _standing(on: OnWall) -> dict[str, Array]:
    """Outlines, px, of what hangs on a wall, by name."""
    seen = {feature.name: _polygon(on.view, outline(feature)) for feature in _kept(on.plan.survey)}
    return {name: polygon for name, polygon in seen.items() if len(polygon) >= 3}


def _hung_again(on: OnWall, wall: Field, photo: Pixels, clean: Pixels, picture: Pixels) -> Pixels:
    """What hangs on a wall, at its place or where it goes."""
    standing = _standing(on)
    for feature in _kept(on.plan.survey):
        if feature.name in on.moves and feature.name in standing:
            picture = _moved(on, photo, picture, wall, feature)
    stay = [polygon for name, polygon in standing.items() if name not in on.moves]
    return kept_in_front(on.view, clean, picture, wall, stay)


def _moved(on: OnWall, photo: Pixels, picture: Pixels, wall: Field, feature: Feature) -> Pixels:
    """A box's own pixels at its new place, as bright as the light there."""
    by, z = on.moves[feature.name], float(feature.mark.proud)
    there = outline(feature) + np.array([by, 0, 0])
    window, cover = covered_by([_polygon(on.view, there)], picture.shape)
    if not cover.any():
        return picture
    ray = rays_of(on.view, (window[1].start, window[0].start), (cover.shape[1], cover.shape[0]))
    x, y = ray.at(z)
    places = np.stack([x.ravel() - by, y.ravel(), np.full(x.size, z)], axis=1)
    at = on.view.pixels(places)[0].reshape(*x.shape, 2).astype(np.float32)
    own = to_linear(cv2.remap(photo, at[..., 0], at[..., 1], cv2.INTER_CUBIC))
    own = to_srgb(own * (wall.at(x, y) / np.maximum(wall.at(x - np.float32(by), y), 1e-4)))
    after = picture.copy()
    after[window] = np.rint(picture[window] + cover[..., None] * (own - picture[window])).astype(np.uint8)
    return after


# What is known of the wall.


def _kept(survey: WallSurvey) -> list[Feature]:
    return [f for f in survey.features if f.rectangle and f.kind is not Kind.DAMAGE]


def outline(feature: Feature) -> Array:
    """A feature's corners at its face, (4, 3) wall inches; a window reaches down to its apron."""
    lowest = [m.value for m in (feature.apron, feature.stool, feature.bottom) if m is not None]
    left, right, top = (m.value for m in (feature.left, feature.right, feature.top) if m is not None)
    bottom, z = min(lowest), float(feature.mark.proud)
    return np.array([(left, bottom, z), (right, bottom, z), (right, top, z), (left, top, z)], float)


def _proud(on: OnWall) -> tuple[Box, ...]:
    """What stands on the wall and is not drawn, for the shadows that it throws; boxes that move where they go."""
    boxes = []
    for feature in _kept(on.plan.survey):
        corners = outline(feature) + np.array([on.moves.get(feature.name, 0.0), 0, 0])
        (left, bottom, z), (right, top, _) = corners[0], corners[2]
        boxes.append(Box(left, bottom, right, top, 0.0, min(z, 1.5)))
    return tuple(boxes)


def _extent(survey: WallSurvey) -> tuple[float, float, float, float]:
    top = survey.ceiling.value if survey.ceiling else USUAL_CEILING
    right = (
        survey.width.value
        if survey.width
        else max((f.right.value for f in survey.features if f.right), default=USUAL_CEILING)
    )
    return 0.0, 0.0, max(right, 12.0), top


def _polygon(view: View, corners: Array) -> Array:
    pixels, good = view.pixels(edges(corners))
    return pixels[good]


def _bare(on: OnWall, wall: Field, covered: Bools) -> Bools:
    """Which pixels show nothing but wall; every `COARSE`th tells it for those round it."""
    height, width = covered.shape
    u, v = (np.arange(COARSE // 2, n + COARSE, COARSE, dtype=float) for n in (width, height))
    x, y = on.view.meets(np.stack(np.meshgrid(u, v), axis=-1).reshape(-1, 2)).T[:2].astype(np.float32)
    known = wall.known_at(x.reshape(len(v), len(u)), y.reshape(len(v), len(u)))
    whole = cv2.resize(known, None, fx=COARSE, fy=COARSE, interpolation=cv2.INTER_LINEAR)[:height, :width]
    return np.asarray((whole > 0.99) & ~covered)
