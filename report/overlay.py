"""The planned frames on the customer's own photo, and the photo with what was marked on it.

Frames: wall (in), image (px of the picture handed in, the centre of the first pixel at (0, 0)).
"""

from collections.abc import Iterable, Sequence

import numpy as np
from PIL import Image

from capture.camera import Array, Camera
from capture.record import TRAITS, Kind, Mark, Shape
from capture.survey import Feature, WallSurvey
from layout.frames import Frame, Panel, Rect, Role
from layout.plan import WallPlan
from layout.verdicts import Verdict
from report.canvas import Canvas
from report.numbers import judged, numbers
from report.pictures import shrink
from report.symbols import SYMBOLS
from report.views import CameraView, FlatView, View, edges

WORK_WIDTH = 2000  # px: enough for a page, quick to draw

# White paint, lit as the photo is, in relief as if the light came from above and a little from the left.
FACE, FACE_COVER = (251, 247, 239), 0.94
FIELD, FIELD_COVER = (244, 239, 230), 0.9
SHADE = {"up": (255, 252, 245), "left": (238, 233, 224), "right": (208, 203, 193), "down": (170, 164, 154)}
SIDE_COVER = 0.95
EDGE, EDGE_COVER = (58, 55, 50), 0.6


def overlay(
    picture: Image.Image,
    camera: Camera,
    plan: WallPlan,
    in_front: Sequence[Sequence[tuple[float, float]]] = (),
    behind: float = 0.0,
) -> Image.Image:
    """The planned frames drawn on a photo, each member at its true distance from the wall.

    Parameters
    ----------
    picture
        The upright photo.
    camera
        Its solved camera; its size is that of `picture`.
    plan
        The wall's plan, inches.
    in_front
        Outlines, pixels of `picture`, of what stands in front of the wall and is left as it is in the photo.
    behind
        Thickness of a sheet behind the frame, inches.

    Returns
    -------
    PIL.Image.Image
        At most `WORK_WIDTH` pixels wide.
    """
    canvas = Canvas(shrink(picture, WORK_WIDTH))
    factor = canvas.pixels.shape[1] / picture.width
    view = CameraView.scaled(camera, factor)
    _draw_plan(canvas, view, plan, behind)
    for outline in in_front:
        canvas.restore((np.array(outline, float).reshape(-1, 2) + 0.5) * factor - 0.5)
    return canvas.picture()


def elevation_overlay(
    image: Image.Image, px_per_inch: float, left: float, top: float, wall: WallPlan | WallSurvey
) -> Image.Image:
    """The planned frames, or only what stands there, on a rectified elevation.

    Parameters
    ----------
    image
        The wall seen straight on.
    px_per_inch
        Its scale.
    left, top
        Wall inches of the outer corner of its first pixel.
    wall
        A plan, or a survey where nothing is planned.
    """
    canvas = Canvas(shrink(image, WORK_WIDTH))
    view = FlatView(px_per_inch * canvas.pixels.shape[1] / image.width, left, top)
    if isinstance(wall, WallPlan):
        _draw_plan(canvas, view, wall, 0.0)
    else:
        _draw_features(canvas, view, wall, {})
    return canvas.picture()


def marked_photo(
    picture: Image.Image, camera: Camera | None, survey: WallSurvey, marks: Iterable[Mark], photo: str
) -> Image.Image:
    """A photo with what was marked: numbered outlines where the camera is known, else the taps themselves.

    Parameters
    ----------
    picture
        The upright photo.
    camera
        Its solved camera, or None.
    survey
        The wall as it stands, inches.
    marks
        The wall's marks; their sights in this photo are used where there is no camera.
    photo
        The photo's name.
    """
    canvas = Canvas(shrink(picture, WORK_WIDTH))
    factor = canvas.pixels.shape[1] / picture.width
    if camera is not None:
        view = CameraView.scaled(camera, factor)
        _draw_lines(canvas, view, survey)
        _draw_features(canvas, view, survey, {})
        return canvas.picture()
    number = numbers(survey)
    for mark in marks:
        taps = [(s.u, s.v) for s in mark.sights if s.photo == photo]
        if taps and mark.kind is not Kind.IN_FRONT:
            _draw_taps(canvas, (np.array(taps, float) + 0.5) * factor - 0.5, number.get(mark.name))
    return canvas.picture()


# The frames.


def _draw_plan(canvas: Canvas, view: View, plan: WallPlan, behind: float) -> None:
    for frame in plan.frames:
        for panel in frame.panels:
            _draw_panel(canvas, view, panel, behind + _face(frame), behind)
        _draw_frame(canvas, view, frame, behind)
    verdicts = {name: judgement.verdict for name, judgement in judged(plan).items()}
    for feature in plan.survey.features:
        if feature.rectangle and feature.kind is not Kind.DAMAGE:
            canvas.restore(_seen(view, _outline(feature)))
    _draw_features(canvas, view, plan.survey, verdicts)


def _face(frame: Frame) -> float:
    """How far the faces of stiles and rails stand off what lies behind them, inches."""
    return max((float(m.thickness) for m in frame.members if m.role not in (Role.CAP, Role.BASE)), default=0.0)


def _draw_panel(canvas: Canvas, view: View, panel: Panel, face: float, ground: float) -> None:
    opening = panel.opening
    _paint(canvas, view, _flat(opening, ground), FIELD, FIELD_COVER)
    if panel.moulding is not None:
        proud = ground + max((float(m.thickness) for m in panel.mouldings), default=0.0)
        middle = _between(panel.moulding, panel.field)
        _bevel(canvas, view, panel.moulding, middle, proud, ("up", "left", "right", "down"))
        _bevel(canvas, view, middle, panel.field, proud, ("down", "right", "left", "up"))
        for rect in (panel.moulding, panel.field):
            _edge(canvas, view, _flat(rect, proud if rect is panel.moulding else ground), 0.7)
    _shadow(canvas, view, opening, ground, 0.9, 0.3)
    _reveal(canvas, view, opening, ground, face)


def _bevel(canvas: Canvas, view: View, outer: Rect, inner: Rect, z: float, light: tuple[str, str, str, str]) -> None:
    """Four mitred strips between two rectangles, shaded by where they face: top, left, right, bottom."""
    o, i = _flat(outer, z), _flat(inner, z)
    for side, (a, b) in zip(light, ((3, 2), (0, 3), (2, 1), (1, 0)), strict=True):
        _paint(canvas, view, np.array([o[a], o[b], i[b], i[a]]), SHADE[side], SIDE_COVER)


def _reveal(canvas: Canvas, view: View, opening: Rect, ground: float, face: float) -> None:
    """The inner sides of stiles and rails, as far as they show from where the photo was taken."""
    left, bottom, right, top = _floats(opening)
    eye = view.eye
    if not np.isfinite(eye).all():
        return
    sides = (
        (eye[0] > left, "right", (left, bottom), (left, top)),
        (eye[0] < right, "left", (right, top), (right, bottom)),
        (eye[1] < top, "down", (left, top), (right, top)),
        (eye[1] > bottom, "up", (right, bottom), (left, bottom)),
    )
    for shows, light, a, b in sides:
        if shows:
            _paint(canvas, view, _side(a, b, ground, face), SHADE[light], SIDE_COVER)


def _draw_frame(canvas: Canvas, view: View, frame: Frame, behind: float) -> None:
    face = behind + _face(frame)
    left, bottom, right, top = _floats(frame.rect)
    for x, shows in ((left, view.eye[0] < left), (right, view.eye[0] > right)):
        if shows and np.isfinite(view.eye).all():
            _paint(canvas, view, _side((x, bottom), (x, top), 0.0, face), SHADE["left"], SIDE_COVER)
    for member in frame.members:
        if member.role is not Role.CAP:
            _paint(canvas, view, _flat(member.rect, face), FACE, FACE_COVER)
            _edge(canvas, view, _flat(member.rect, face), 0.9)
    for member in frame.members:
        if member.role is Role.CAP:
            _draw_cap(canvas, view, member.rect, face, behind + float(member.thickness))


def _draw_cap(canvas: Canvas, view: View, cap: Rect, face: float, front: float) -> None:
    left, bottom, right, top = _floats(cap)
    _shadow(canvas, view, Rect(cap.left, cap.bottom - 3, cap.right, cap.bottom), face, 1.1, 0.34)
    if np.isfinite(view.eye).all():
        if view.eye[1] > top:
            _paint(canvas, view, _side((left, top), (right, top), 0.0, front), SHADE["up"], SIDE_COVER)
            _edge(canvas, view, _side((left, top), (right, top), 0.0, front), 0.7)
        if view.eye[1] < bottom:
            _paint(canvas, view, _side((left, bottom), (right, bottom), face, front), SHADE["down"], SIDE_COVER)
    _paint(canvas, view, _flat(cap, front), FACE, SIDE_COVER)
    _edge(canvas, view, _flat(cap, front), 1.0)


def _shadow(canvas: Canvas, view: View, rect: Rect, z: float, depth: float, strength: float) -> None:
    """A soft shadow that falls from the upper edge of a rectangle, `depth` inches down."""
    left, _, right, top = _floats(rect)
    layers = 5
    for i in range(1, layers + 1):
        low = top - depth * i / layers
        corners = np.array([(left, low, z), (right, low, z), (right, top, z), (left, top, z)])
        canvas.fill(_seen(view, corners), (40, 38, 36), strength / layers)


# What stands on the wall.


def _draw_features(canvas: Canvas, view: View, survey: WallSurvey, verdicts: dict[str, Verdict]) -> None:
    number = numbers(survey)
    flags = []
    for feature in survey.features:
        if not feature.rectangle:
            continue
        corners = _outline(feature)
        canvas.outline(_seen(view, corners))
        top = np.array([[(corners[:, 0].min() + corners[:, 0].max()) / 2, corners[:, 1].max(), corners[0, 2]]])
        pixels, good = view.pixels(top)
        if good[0]:
            verdict = verdicts.get(feature.name, Verdict.CLEAR)
            symbol = None if verdict is Verdict.CLEAR else SYMBOLS[verdict]
            flags.append((pixels[0], number[feature.name], symbol))
    taken: list[Array] = []
    for at, label, symbol in sorted(flags, key=lambda flag: flag[1]):
        spot = _free_spot(canvas, at, symbol is not None, taken)
        canvas.flag(tuple(spot), label, symbol)


def _free_spot(canvas: Canvas, at: Array, signed: bool, taken: list[Array]) -> Array:
    """Above the thing, inside the picture, and higher where another flag already hangs; noted in `taken`."""
    radius = 14.0 * canvas.unit
    height, width = canvas.pixels.shape[:2]
    beside = np.array([2.35 * radius, 0.0]) if signed else np.zeros(2)
    margin = 1.2 * radius
    for step in range(8):
        spot = at - (beside[0] / 2, radius * (1.6 + 2.4 * step))
        spot = np.clip(spot, margin, (width - margin - beside[0], height - margin))
        if all(np.hypot(*(part - other)) > 2.3 * radius for part in (spot, spot + beside) for other in taken):
            break
    taken += [spot, spot + beside]
    return np.asarray(spot)


def _draw_lines(canvas: Canvas, view: View, survey: WallSurvey) -> None:
    """Edges, studs, floor and level points."""
    for feature in survey.features:
        if feature.across is None or TRAITS[feature.kind].shape is Shape.RECTANGLE:
            continue
        x, y, z = feature.across.value, feature.up.value if feature.up else 0.0, float(feature.mark.proud)
        if TRAITS[feature.kind].shape is Shape.UPRIGHT:
            points = np.column_stack([np.full(61, x), np.linspace(0, 60, 61), np.full(61, z)])
            pixels, good = view.pixels(points)
            dashes = np.array_split(pixels[good], 15)[::2] if feature.kind is Kind.STUD else [pixels[good]]
            for dash in dashes:
                canvas.outline(dash, closed=False)
        else:
            pixels, good = view.pixels(np.array([[x, y, z]]))
            if good[0]:
                _cross(canvas, pixels[0])


def _draw_taps(canvas: Canvas, taps: Array, number: int | None) -> None:
    for tap in taps:
        _cross(canvas, tap)
    if number is not None:
        canvas.flag(tuple(_free_spot(canvas, taps.min(axis=0), False, [])), number)


def _cross(canvas: Canvas, at: Array) -> None:
    arm = 7.0 * canvas.unit
    for way in ((arm, 0.0), (0.0, arm)):
        canvas.outline(np.array([at - way, at + way]), closed=False)


def _outline(feature: Feature) -> Array:
    """A feature's corners at its face, wall inches; a window reaches down to its apron."""
    lowest = [m.value for m in (feature.apron, feature.stool, feature.bottom) if m is not None]
    left, right, top = (m.value for m in (feature.left, feature.right, feature.top) if m is not None)
    return _corners(left, min(lowest), right, top, float(feature.mark.proud))


# Shapes in wall inches, and how they come onto the picture.


def _flat(rect: Rect, z: float) -> Array:
    return _corners(*_floats(rect), z)


def _corners(left: float, bottom: float, right: float, top: float, z: float) -> Array:
    return np.array([(left, bottom, z), (right, bottom, z), (right, top, z), (left, top, z)], float)


def _side(a: tuple[float, float], b: tuple[float, float], low: float, high: float) -> Array:
    """The surface that stands out from the wall along the line a to b."""
    return np.array([(*a, low), (*b, low), (*b, high), (*a, high)], float)


def _floats(rect: Rect) -> tuple[float, float, float, float]:
    return float(rect.left), float(rect.bottom), float(rect.right), float(rect.top)


def _between(outer: Rect, inner: Rect) -> Rect:
    pairs = zip(
        (outer.left, outer.bottom, outer.right, outer.top),
        (inner.left, inner.bottom, inner.right, inner.top),
        strict=True,
    )
    return Rect(*((a + b) / 2 for a, b in pairs))


def _seen(view: View, corners: Array) -> Array:
    pixels, good = view.pixels(edges(corners))
    return pixels[good]


def _paint(canvas: Canvas, view: View, corners: Array, colour: tuple[int, int, int], cover: float) -> None:
    canvas.paint(_seen(view, corners), colour, cover)


def _edge(canvas: Canvas, view: View, corners: Array, width: float) -> None:
    canvas.line(_seen(view, corners), EDGE, width, EDGE_COVER, closed=True)
