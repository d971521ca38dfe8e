"""The photos of a solved job as scenes to put a plan into: every wall that a photo shows, and every card."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from capture.camera import Array, Camera
from capture.corner import across, corner_belief
from capture.mosaic import blur_of
from capture.photos import Picture
from capture.record import Kind, Photo, Wall
from layout.plan import Plan
from report.compose import OnWall, Scene
from report.erase import sheet_corners
from report.pictures import shrink
from report.views import CameraView
from wainscribe.actions import SolvedWall

BEFORE = 6.0  # in: a camera that stands no further before a wall sees nothing of it


def scene_of(
    solved: Sequence[SolvedWall],
    at: int,
    photo: Photo,
    picture: Picture,
    plan: Plan,
    moves: Mapping[str, Mapping[str, float]],
    width: int,
) -> Scene:
    """A photo of the wall `at`, no wider than `width` pixels, with the neighbours that it shows beside.

    Parameters
    ----------
    solved
        The walls of one room in order, solved.
    at
        Which of them the photo is of.
    photo, picture
        A photo that was solved.
    plan
        What is planned.
    moves
        By wall and box, how far each goes to the right, inches.
    width
        Pixels.
    """
    one = solved[at]
    small = shrink(picture.rgb, width)
    factor = small.width / picture.rgb.shape[1]
    cameras = {at: one.measured.solution.camera(photo.name), **_beside(solved, at, photo.name)}
    views = {k: CameraView.scaled(camera, factor) for k, camera in cameras.items()}
    scheme = plan.scheme
    walls = tuple(
        OnWall(view, plan.wall(solved[k].wall.name), moves.get(solved[k].wall.name, {}), float(scheme.behind))
        for k, view in views.items()
    )
    shot = one.measured.solution.net.shots[one.measured.solution.shot_index(photo.name)]
    return Scene(
        small,
        walls,
        tuple(sheet for k, view in views.items() for sheet in _sheets(solved[k], view)),
        tuple((o + 0.5) * factor - 0.5 for k in views for o in outlines_in_front(solved[k].wall, photo.name)),
        scheme.paint,
        blur_of(picture.gray, shot.cards) * factor,
    )


def outlines_in_front(wall: Wall, photo: str) -> tuple[Array, ...]:
    """Outlines (N, 2) px of what was marked as standing before the wall."""
    marks = (mark for mark in wall.marks if mark.kind is Kind.IN_FRONT)
    outlines = (np.array([(s.u, s.v) for s in mark.sights if s.photo == photo], float) for mark in marks)
    return tuple(outline for outline in outlines if len(outline) >= 3)


def _beside(solved: Sequence[SolvedWall], at: int, photo: str) -> dict[int, Camera]:
    """The photo's camera in the frames of the neighbours that it can show, by their place in the room."""
    found = {}
    camera = solved[at].measured.solution.camera(photo)
    for other, corner, backward in _corners(solved, at):
        solution = solved[other].measured.solution
        if photo in [shot.name for shot in solution.net.shots]:  # it shows cards of that wall as well
            found[other] = solution.camera(photo)
        else:
            found[other] = replace(camera, pose=across(corner, camera.pose, backward=backward))
    return {k: camera for k, camera in found.items() if camera.centre[2] > BEFORE}


def _corners(solved: Sequence[SolvedWall], at: int) -> list[tuple[int, Array, bool]]:
    """The walls beside one, with the corner between; backward where that wall stands to the right."""
    found = []
    for left, right in ((at - 1, at), (at, at + 1)):
        if left < 0 or right >= len(solved):
            continue
        a, b = solved[left], solved[right]
        width, wall = a.measured.survey.width, a.wall
        belief = corner_belief(wall.right, b.wall.left, float(wall.bullnose_radius) if wall.bullnose_radius else None)
        if belief is None or width is None:
            continue
        corner = belief.mean + np.array([0, 0, 0, width.value, 0, 0])
        if (told := a.measured.survey.corner) is not None and told.next_wall == b.wall.name:
            corner[1] = np.sign(corner[1]) * np.radians(abs(told.turn))
            corner[4] = told.step.value
        found.append((left, corner, False) if right == at else (right, corner, True))
    return found


def _sheets(solved: SolvedWall, view: CameraView) -> list[Array]:
    """Where the sheets of all cards of a wall lie in a picture, whole or cut by its edge, (4, 2) px each."""
    solution = solved.measured.solution
    sheets = []
    for i in range(len(solution.net.cards)):
        x, y, angle = solution.unknowns[solution.slots.card(i)]
        turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        flat = sheet_corners() @ turn + (x, y)
        pixels, good = view.pixels(np.column_stack([flat, np.zeros(4)]))
        if good.all():
            sheets.append(pixels)
    return sheets
