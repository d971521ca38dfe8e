"""Two walls that meet in a corner, with photos of each and one of both: truth drawn from what is taken for granted."""

from dataclasses import dataclass
from fractions import Fraction

import cv2
import numpy as np

from capture.beliefs import CORNER_LEAN_SD, CORNER_STEP_SD, CORNER_TURN_SD, LEVEL_SD, PRINT_SD, TAP_SD, tape_sd
from capture.camera import Camera
from capture.net import Seen
from capture.record import At, EndKind, Kind, Mark, Side, Sight, Wall
from tests.scenes import SIZE, lens_from_prior, observe
from tests.synthetic import look

WIDTHS = (130.0, 100.0)


@dataclass(frozen=True)
class Corner:
    """Two walls as noted and seen, and the truth."""

    walls: list[tuple[Wall, list[Seen]]]
    turn: float  # degrees
    step: float  # in
    boxes: tuple[tuple[float, float], tuple[float, float]]  # middles on each wall


def corner_room(seed: int, *, turn: EndKind = EndKind.INSIDE_CORNER, level: bool = False) -> Corner:
    """Two flat walls; the photo of the corner is given to the second wall only."""
    rng = np.random.default_rng(seed)
    lens, printed = lens_from_prior(rng), tuple(rng.normal(1, PRINT_SD, 2))
    sign = -1.0 if turn is EndKind.INSIDE_CORNER else 1.0
    true_turn, step = 90.0 + rng.normal(0, np.degrees(CORNER_TURN_SD)), rng.normal(0, CORNER_STEP_SD)
    rvec = np.array([rng.normal(0, CORNER_LEAN_SD), np.radians(sign * true_turn), rng.normal(0, CORNER_LEAN_SD)])
    R, t = cv2.Rodrigues(rvec)[0], np.array([WIDTHS[0], step, 0.0])
    hung = (
        {1: (12.0, 58.0, 0.0), 2: (60.0, 30.0, 0.5), 3: (112.0, 55.0, -0.5)},
        {7: (14.0, 30.0, 0.3), 8: (50.0, 60.0, -0.2), 9: (88.0, 32.0, 0.4)},
    )
    boxes = ((100.0, 15.0), (24.0, 16.0))
    eyes = (
        look(SIZE, at=(65, 50, 120), yaw=rng.uniform(-8, 8), **lens),
        look(SIZE, at=(50, 50, 115), yaw=rng.uniform(-8, 8), **lens),
    )
    both = _corner_eye(lens, sign, R, t)
    views = [(eyes[0], both[0]), (eyes[1], both[1])]
    walls = []
    for i, name in enumerate(("first", "second")):
        photos = [observe(views[i][0], hung[i], printed, rng, f"{name}.jpg")]
        looks = {f"{name}.jpg": views[i][0]}
        if i == 1:
            of_first, of_second = (observe(both[w], hung[w], printed, rng, "corner.jpg") for w in (0, 1))
            photos.append(Seen("corner.jpg", SIZE, 26.0, "phone", (*of_first.cards, *of_second.cards)))
            looks["corner.jpg"] = both[1]
        marks = _marks(looks, boxes[i], WIDTHS[i], rng, level, 40.0 - (step if i == 1 else 0.0))
        width = Fraction(WIDTHS[i] + rng.normal(0, tape_sd(WIDTHS[i]))).limit_denominator(10**6)
        ends = {"right": turn} if i == 0 else {"left": turn}
        walls.append((Wall(name=name, width=width, marks=marks, bow=Fraction(0), **ends), photos))
    return Corner(walls, true_turn, step, boxes)


def _corner_eye(lens, sign, R, t) -> tuple[Camera, Camera]:
    """One camera that looks into (or at) the corner, in both walls' frames."""
    if sign < 0:
        in_first = look(SIZE, at=(60.0, 52.0, 110.0), yaw=42, pitch=2, **lens)
    else:
        in_first = look(SIZE, at=(WIDTHS[0] + 80.0, 52.0, 80.0), yaw=-45, pitch=2, **lens)
    Rc, tc = in_first.R, in_first.pose[3:]
    return in_first, Camera.from_matrix(SIZE, in_first.lens, Rc @ R, Rc @ t + tc)


def _marks(looks, box, width, rng, level, height) -> tuple[Mark, ...]:
    def sights(points):
        found = []
        for photo, eye in looks.items():
            for at, point in points:
                if eye.sees(np.array([point]))[0]:
                    u, v = eye.project(np.array([point]))[0] + rng.normal(0, TAP_SD, 2)
                    found.append(Sight(photo=photo, u=float(u), v=float(v), at=at))
        return tuple(found)

    x, y = box
    end, floor = ([(At.POINT, place)] for place in ((0.0, 18.0, 0.0), (40.0, 0.0, 0.0)))
    size = {"width": Fraction(2), "height": Fraction(2)}
    marks = [
        Mark(name="left mark", kind=Kind.WALL_END, side=Side.LEFT, sights=sights(end)),
        Mark(name="floor 1", kind=Kind.FLOOR_POINT, projection=Fraction(0), sights=sights(floor)),
        Mark(name="box", kind=Kind.DAMAGE, sights=sights([(At.CENTRE, (x, y, 0.0))]), **size),
    ]
    if level:
        for n, where in enumerate((20.0, width - 20.0), 1):
            at = (where, height + rng.normal(0, LEVEL_SD), 0.0)
            marks.append(Mark(name=f"laser {n}", kind=Kind.LEVEL_POINT, sights=sights([(At.POINT, at)])))
    return tuple(m for m in marks if m.sights)
