"""A solved wall seen straight on: what its elevation shows, and what is said of it."""

from collections.abc import Callable, Mapping
from functools import partial

import numpy as np
from numpy.typing import NDArray

from capture.mosaic import View, blur_of, elevation
from capture.net import Shot
from capture.photos import Picture
from capture.record import Kind, Wall
from capture.seams import NOBODY
from capture.survey import WallSurvey
from report.papers import Elevation
from wainscribe.actions import SolvedWall

SCALE = 18.0  # px per wall inch: 200 dpi where 12 in of wall are drawn an inch wide, and some to spare
MARGIN = 3.0  # wall inches shown round the wall
BEYOND = 24.0  # wall inches shown beyond the cards where the wall's own ends are not known
USUAL_TOP = 84.0  # wall inches shown where the ceiling is not known


def straight_on(
    solved: SolvedWall, pictures: Mapping[str, Picture], wanted: Callable[[float, float], float] = lambda *_: SCALE
) -> Elevation | None:
    """The wall from all its solved photos; None where it has none.

    Parameters
    ----------
    solved, pictures
        The wall, and its photos by name.
    wanted
        How many pixels per inch to draw a wall with that is so many inches across and up; no more than `SCALE` are.
    """
    solution, survey = solved.measured.solution, solved.measured.survey
    shots = tuple(shot for shot in solution.net.shots if not shot.borrowed)
    if not shots:
        return None
    views = [
        View(
            shot.name,
            pictures[shot.name].rgb,
            solution.camera(shot.name),
            partial(blur_of, pictures[shot.name].rgb, shot.cards),
            _in_front(solved.wall, shot.name),
        )
        for shot in shots
    ]
    left, bottom, right, top = extent = _extent(survey, views, shots)
    scale = min(SCALE, wanted(right - left, top - bottom))
    drawn = elevation(views, extent, scale, _whole(survey))
    given = drawn.fineness[drawn.fineness > 0]
    return Elevation(
        drawn.rgb,
        drawn.px_per_inch,
        drawn.left,
        drawn.top,
        _photos([view.name for view in views], drawn.source),
        drawn.seen,
        (float(given.min()), float(given.max())) if given.size else None,
        _coarsest(drawn.fineness),
    )


def _in_front(wall: Wall, photo: str) -> tuple[NDArray[np.float64], ...]:
    marks = [mark for mark in wall.marks if mark.kind is Kind.IN_FRONT]
    outlines = [np.array([(s.u, s.v) for s in mark.sights if s.photo == photo], float) for mark in marks]
    return tuple(outline for outline in outlines if len(outline) >= 3)


def _extent(survey: WallSurvey, views: list[View], shots: tuple[Shot, ...]) -> tuple[float, float, float, float]:
    """Left, bottom, right, top: the wall and its margin, and nothing of what is round its corners.

    A card left of x = 0, or below y = 0, says that the frame starts at a card for want of the wall's end or floor.
    """
    met = [view.camera.meet(card.points)[:, :2] for view, shot in zip(views, shots, strict=True) for card in shot.cards]
    (low_x, low_y), (high_x, high_y) = np.vstack(met).min(axis=0) - BEYOND, np.vstack(met).max(axis=0) + BEYOND
    left, right, bottom, top = -MARGIN, high_x, -MARGIN, USUAL_TOP
    if low_x + BEYOND < 0:
        left = low_x
    elif survey.width:
        right = survey.width.value + MARGIN
    if low_y + BEYOND < 0:
        bottom, top = low_y, high_y
    elif survey.ceiling:
        top = survey.ceiling.value
    return float(left), float(bottom), float(right), float(top)


def _whole(survey: WallSurvey) -> list[tuple[float, float, float, float]]:
    """What was marked and measured, grown by how far its face is shifted where it is seen from 45 degrees aside."""
    boxes = []
    for f in survey.features:
        if f.rectangle and f.left and f.bottom and f.right and f.top:
            proud = float(f.mark.proud)
            boxes.append((f.left.value - proud, f.bottom.value - proud, f.right.value + proud, f.top.value + proud))
    return boxes


def _photos(names: list[str], source: NDArray[np.uint8]) -> str:
    """Which photos the picture is made of, and how much of it comes from each."""
    if source.min() == NOBODY:
        return "No photo looked here."
    if len(names) == 1:
        return f"Redrawn from “{names[0]}”."
    counts = np.array([np.count_nonzero(source == i) for i in range(len(names))])
    shares = [f"“{names[i]}”" + (f" ({counts[i] / counts.sum():.0%})") for i in np.argsort(-counts) if counts[i]]
    if len(shares) == 1:
        return f"Redrawn from “{names[int(counts.argmax())]}”."
    return f"Joined from {', '.join(shares[:-1])} and {shares[-1]}, their light evened."


def _coarsest(fineness: NDArray[np.float32]) -> str:
    """Where on the wall the photos gave least: the ninth of the picture with the lowest mean, in words."""
    least, where = np.inf, ""
    for part, height in zip(
        np.array_split(fineness, 3), ("near the ceiling", "half-way up", "near the floor"), strict=True
    ):
        for ninth, across in zip(
            np.array_split(part, 3, axis=1), ("at the left", "in the middle", "at the right"), strict=True
        ):
            given = ninth[ninth > 0]
            if given.size and given.mean() < least:
                least, where = float(given.mean()), f"{across}, {height}"
    return where
