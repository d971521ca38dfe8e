"""The planned frames put into a photo as if they had been there when it was taken.

In this order: cards off; the wall's light learnt; the members met by the camera's own rays, painted, lit and shaded;
what stays on the wall or stands before it left in front; boxes that move shown where they go.

Frames: wall (in; x right, y up, z out of the wall), image (px; the centre of the first pixel at (0, 0)).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

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
from report.relief import Box, Met, Solids, meet_shown, rays_of, reach_of, reaches_of, solids_of
from report.shade import shade_of
from report.views import View, edges

Array = NDArray[np.float64]
Floats = NDArray[np.float32]
Bools = NDArray[np.bool_]
Pixels = NDArray[np.uint8]

SAMPLES = 2  # to a pixel each way
BAND = 64  # rows drawn at a time, which the processor's cache holds; a multiple of `relief.STEP`
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
        band = size[0], rows.stop - start
        met = meet_shown(reaches, rays_of(on.view, first, band, SAMPLES), first, SAMPLES)
        light = _rolled(wall.at(*met.places) * tint * (shade.of(met) * _sill(met))[..., None])
        for whole, part in ((cover, met.hit.astype(np.float32)), (total, light)):
            cv2.resize(part, band, dst=whole[rows], interpolation=cv2.INTER_AREA)
        far[rows] = _far(on.view, met)
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


def _far(view: View, met: Met) -> Floats | float:
    """How far the members are from the eye, inches; only to tell which of two walls is nearer."""
    eye = view.eye
    if not np.isfinite(eye).all():
        return 0.0
    x, y = (part[::SAMPLES, ::SAMPLES] for part in met.places)
    return np.asarray(np.sqrt((x - eye[0]) ** 2 + (y - eye[1]) ** 2 + eye[2] ** 2), np.float32)


def _sill(met: Met) -> Floats:
    """Less light in the joint between wainscot and floor."""
    return np.asarray(1 - (1 - SILL_DARK) * np.clip(1 - met.places[1] / SILL, 0, 1) ** 2, np.float32)


def _rolled(light: Floats) -> Floats:
    """Light that a phone would not clip: above the knee ever less, never over 1."""
    room, bright = 1 - KNEE, light > KNEE
    light[bright] = KNEE + room * (1 - np.exp(-(light[bright] - KNEE) / room))
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
    size = clean.shape[:2]
    light, cover = np.zeros((*size, 3), np.float32), np.zeros(size, np.float32)
    far = np.full(size, np.inf, np.float32)
    for layer in layers:
        window = _window_of(layer)
        nearer = layer.far < far[window]
        room = np.maximum(1 - layer.cover, 0) / np.maximum(cover[window], 1e-6)
        kept = np.where(nearer, np.minimum(room, 1), 1).astype(np.float32)
        before = cover[window] * kept
        share = np.minimum(1, np.maximum(1 - before, 0) / np.maximum(layer.cover, 1e-6)).astype(np.float32)
        light[window] = light[window] * kept[..., None] + layer.light * share[..., None]
        cover[window] = before + layer.cover * share
        np.minimum(far[window], np.where(layer.cover > 0, layer.far, np.inf), out=far[window])
    picture = clean.copy()
    for start in range(0, size[0], BAND):
        rows = slice(start, start + BAND)
        if not cover[rows].any():
            continue
        share = np.clip(cover[rows], 0, 1)[..., None]
        mixed = to_srgb(to_linear(clean[rows]) * (1 - share) + light[rows]) + grain[rows] * share
        np.copyto(picture[rows], np.clip(np.rint(mixed), 0, 255).astype(np.uint8), where=share > 0)
    return picture


def _window_of(layer: Layer) -> tuple[slice, slice]:
    column, row = layer.corner
    height, width = layer.cover.shape
    return slice(row, row + height), slice(column, column + width)


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
    """Which pixels show nothing but wall."""
    height, width = covered.shape
    ray = rays_of(on.view, (0, 0), (width, height))
    known = replace(wall, values=wall.known.astype(np.float32)[..., None])
    left, bottom = wall.left, wall.bottom
    inside = (ray.x0 > left) & (ray.y0 > bottom)
    return np.asarray(inside & (known.at(ray.x0, ray.y0).reshape(height, width) > 0.99) & ~covered)
