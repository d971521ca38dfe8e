"""The planned frames on a photo, and the photo with what was marked on it: numbered, for those who do the work.

Frames: wall (in), image (px of the picture handed in, the centre of the first pixel at (0, 0)).
"""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from PIL import Image

from capture.camera import Array, Camera
from capture.record import TRAITS, Kind, Mark, Shape
from capture.survey import WallSurvey
from layout.paint import USUAL
from layout.plan import WallPlan
from layout.verdicts import Verdict
from report.boxes import planned_places
from report.canvas import Canvas
from report.compose import OnWall, Scene, composed, outline
from report.crops import dashes
from report.numbers import judged, numbers
from report.pictures import Source, shrink, size_of
from report.standing import STANDING
from report.symbols import SYMBOLS
from report.views import CameraView, FlatView, View, edges

WORK_WIDTH = 2000  # px: enough for a page, quick to draw


def overlay(
    picture: Source,
    camera: Camera,
    plan: WallPlan,
    in_front: Sequence[Sequence[tuple[float, float]]] = (),
    behind: float = 0.0,
    paint: str = USUAL,
) -> Image.Image:
    """The planned frames in a photo, as if they stood there, with the numbers of what is in the way.

    A box of which it is decided that it moves is shown where it goes, and dashed where it stands now.

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
    paint
        As in `layout.paint`.

    Returns
    -------
    PIL.Image.Image
        At most `WORK_WIDTH` pixels wide.
    """
    small = shrink(picture, WORK_WIDTH)
    factor = small.width / size_of(picture)[0]
    view = CameraView.scaled(camera, factor)
    outlines = tuple((np.array(points, float).reshape(-1, 2) + 0.5) * factor - 0.5 for points in in_front)
    moves = {name: at - _middle(plan.survey, name) for name, at in planned_places(plan).items()}
    drawn = composed(Scene(small, (OnWall(view, plan, moves, behind),), in_front=outlines, paint=paint))
    return _with_flags(drawn, view, plan, outlines)


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
    small = shrink(image, WORK_WIDTH)
    view = FlatView(px_per_inch * small.width / image.width, left, top)
    if isinstance(wall, WallPlan):
        return _with_flags(composed(Scene(small, (OnWall(view, wall),))), view, wall)
    canvas = Canvas(small)
    _draw_features(canvas, view, wall, {})
    return canvas.picture()


def _with_flags(picture: Image.Image, view: View, plan: WallPlan, in_front: Sequence[Array] = ()) -> Image.Image:
    canvas = Canvas(picture)
    places = planned_places(plan)
    verdicts = {name: judgement.verdict for name, judgement in judged(plan).items() if name not in places}
    _draw_features(canvas, view, plan.survey, verdicts, places)
    for points in in_front:
        canvas.restore(points)
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


# What stands on the wall.


def _middle(survey: WallSurvey, name: str) -> float:
    across = survey.feature(name).across
    return across.value if across is not None else 0.0


def _draw_features(
    canvas: Canvas, view: View, survey: WallSurvey, verdicts: dict[str, Verdict], places: Mapping[str, float] = STANDING
) -> None:
    number = numbers(survey)
    flags = []
    for feature in survey.features:
        if not feature.rectangle:
            continue
        corners = outline(feature)
        if feature.name in places:
            for dash in dashes(_seen(view, corners)):
                canvas.outline(dash, closed=False)
            corners = corners + np.array([places[feature.name] - _middle(survey, feature.name), 0.0, 0.0])
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


def _seen(view: View, corners: Array) -> Array:
    pixels, good = view.pixels(edges(corners))
    return pixels[good]
