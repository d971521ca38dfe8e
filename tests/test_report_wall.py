"""The made-up wall that the tests of the papers share: 12 ft, two inside corners, boxes in and out of the way."""

from fractions import Fraction

import cv2
import numpy as np
from PIL import Image

from capture.camera import Camera
from capture.measured import Measured, Source
from capture.record import EndKind, Kind, Mark, Side, plate_width
from capture.survey import Feature, Finding, WallSurvey
from layout.plan import WallPlan, plan_walls
from layout.scheme import Scheme
from report.numbers import in_order, judged, numbers

SCHEME = Scheme(panel_width=Fraction(20))
WIDTH = 144.0
CHAIR = [(500.0, 420.0), (640.0, 420.0), (660.0, 800.0), (480.0, 800.0)]  # px, in front of the wall


def measured(value: float, sd: float = 0.05, source: Source = Source.PHOTO) -> Measured:
    return Measured(value, sd, source)


def thing(name: str, kind: Kind, x: float, y: float, w: float | None = None, h: float = 4.5, **more) -> Feature:
    mark = Mark(name=name, kind=kind, **more)
    w = float(plate_width(mark.gangs)) if w is None else w
    left, right, bottom, top = (measured(v) for v in (x - w / 2, x + w / 2, y - h / 2, y + h / 2))
    return Feature(mark, left, right, bottom, top)


def line(name: str, kind: Kind, x: float, y: float = 0.0, **more) -> Feature:
    return Feature(Mark(name=name, kind=kind, **more), measured(x), measured(x), measured(y), measured(y))


def made_up_survey(name: str = "North wall") -> WallSurvey:
    features = (
        thing("receptacle 2", Kind.RECEPTACLE, 71.9, 16.3),
        thing("receptacle 1", Kind.RECEPTACLE, 12.4, 16.2, cable_slack=Fraction(10), stud_side=Side.LEFT),
        thing("switch 1", Kind.SWITCH, 136.2, 46.0, gangs=2, note="=three-way"),
        thing("register 1", Kind.REGISTER, 45.0, 6.4, w=12.0, h=6.0),
        Feature(
            Mark(name="window 1", kind=Kind.WINDOW),
            measured(82.3), measured(118.1), measured(39.6), measured(84.2), measured(39.6), measured(37.1),
        ),
        line("stud 1", Kind.STUD, 36.8),
        line("level 1", Kind.LEVEL_POINT, 10.0, 48.0),
    )  # fmt: skip
    return WallSurvey(
        name, EndKind.INSIDE_CORNER, EndKind.INSIDE_CORNER, measured(WIDTH, 1 / 32, Source.TAPE), features,
        findings=(Finding("tape-gap", "tape 2", 'Tape 2 disagrees by 1/2" with everything else.', "Read it again."),),
    )  # fmt: skip


def made_up_plan(survey: WallSurvey | None = None, scheme: Scheme = SCHEME) -> WallPlan:
    return plan_walls([survey or made_up_survey()], scheme).walls[0]


def made_up_camera(size: tuple[int, int] = (1200, 900)) -> Camera:
    """From 10 ft, a little to the left and from above, with a lens that bends lines."""
    yaw, pitch, eye = 0.1, -0.14, np.array([66.0, 58.0, 122.0])
    forward = np.array([np.sin(yaw) * np.cos(pitch), np.sin(pitch), -np.cos(yaw) * np.cos(pitch)])
    right = np.cross(forward, [0, 1, 0]) / np.linalg.norm(np.cross(forward, [0, 1, 0]))
    R = np.stack([right, np.cross(forward, right), forward])
    lens = np.array([0.73 * size[0], size[0] / 2 - 0.5, size[1] / 2 - 0.5, -0.08, 0.02])
    return Camera.from_matrix(size, lens, R, -R @ eye)


def made_up_picture(size: tuple[int, int] = (1200, 900)) -> Image.Image:
    """A warm grey wall with a dark chair."""
    pixels = np.full((size[1], size[0], 3), (150, 144, 134), np.uint8)
    cv2.fillPoly(pixels, [np.array(CHAIR, np.int32)], (60, 50, 44))
    return Image.fromarray(pixels)


def test_numbers_run_from_left_to_right_and_leave_out_lines():
    assert numbers(made_up_survey()) == {
        "receptacle 1": 1, "register 1": 2, "receptacle 2": 3, "window 1": 4, "switch 1": 5,
    }  # fmt: skip


def test_tables_list_numbered_things_first():
    assert [feature.name for feature in in_order(made_up_survey())] == [
        "receptacle 1", "register 1", "receptacle 2", "window 1", "switch 1", "level 1", "stud 1",
    ]  # fmt: skip


def test_a_thing_that_was_never_measured_still_has_a_number():
    survey = made_up_survey()
    lost = Feature(Mark(name="jack 1", kind=Kind.JACK), None, None, None, None)
    survey = WallSurvey(survey.name, survey.left, survey.right, survey.width, (lost, *survey.features))
    assert numbers(survey)["jack 1"] == 6


def test_the_made_up_wall_has_something_clear_and_something_in_the_way():
    verdicts = {name: judgement.verdict.conflict for name, judgement in judged(made_up_plan()).items()}
    assert verdicts["receptacle 1"] is False
    assert verdicts["receptacle 2"] is True
