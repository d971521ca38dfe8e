"""How long it takes to put a plan into a photo, against a bare remap of the same picture."""

import time

import cv2
import numpy as np
from PIL import Image

from report.compose import composed
from report.pictures import shrink
from report.views import CameraView
from tests.lit_wall import lit_wall
from tests.test_report_wall import made_up_camera

SIZE = (4032, 3024)  # 12 MP


def overlay_ratio() -> list[tuple[str, ...]]:
    """One wall with seven panels: seconds, and over `cv2.remap` (cubic, three channels) of the same size."""
    made = lit_wall()
    table: list[tuple[str, ...]] = [("width, px", "s", "over bare cv2.remap")]
    for width in (1600, 2000, SIZE[0]):
        picture = shrink(made.scene.picture.resize(SIZE), width)
        factor = width / made.scene.picture.width
        view = CameraView(made_up_camera(picture.size))
        scene = type(made.scene)(
            picture,
            (type(made.scene.walls[0])(view, made.scene.walls[0].plan),),
            tuple((sheet + 0.5) * factor - 0.5 for sheet in made.sheets),
            tuple((outline + 0.5) * factor - 0.5 for outline in made.scene.in_front),
        )
        ours, bare = _times(scene, picture)
        table.append((str(width), f"{ours:.2f}", f"{ours / bare:.0f}"))
    return table


def _times(scene, picture: Image.Image, times: int = 3) -> tuple[float, float]:
    """Least time of each, taken in turns so that a busy machine slows both."""
    pixels = np.asarray(picture)
    x, y = np.meshgrid(*(np.arange(n, dtype=np.float32) * 0.98 + 3.3 for n in picture.size))
    spent: tuple[list[float], list[float]] = ([], [])
    works = (lambda: composed(scene), lambda: cv2.remap(pixels, x, y, cv2.INTER_CUBIC))
    for _ in range(times):
        for work, times_of in zip(works, spent, strict=True):
            start = time.perf_counter()
            work()
            times_of.append(time.perf_counter() - start)
    return min(spent[0]), min(spent[1])


if __name__ == "__main__":
    for row in overlay_ratio():
        print(*row, sep=" | ")
