"""How fast a photo becomes measured cards, against bare OpenCV calls in the same run; and in how much memory.

``python -m tests.bench_speed`` prints the tables; `tests.bench` may take them in. Nothing here can fail a test.
"""

import multiprocessing
import resource
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import cv2
import numpy as np

from capture import cards
from capture.detect import _markers, detect
from capture.measure import measure_wall
from capture.mosaic import View, elevation
from capture.net import Seen
from capture.photos import read_photo
from capture.record import PrintRun, Wall
from tests import truth

FILES = ("long-wall-1.jpg", "long-wall-2.jpg", "passage-wall.jpg")
ELEVATION = (14 * 12 * 18, 8 * 12 * 18)  # px: 14 ft by 8 ft at 18 px an inch
Table = list[tuple[str, ...]]


def main() -> None:
    """Print every table."""
    from tests.bench import show  # here, for that module takes these tables in

    show("A photo to measured cards, ms and over bare OpenCV", photo_to_cards())
    show("Two photos on two threads, over one after the other", two_at_once())
    show("Peak memory of a process that does one photo, MB", peak_memory())


def photo_to_cards(times: int = 7) -> Table:
    """Each stage and the whole, the fastest of several turns; turns of both sides alternate: load hits both alike."""
    stages = ("decode", "find", "measure", "whole", "bare decode", "bare detect", "bare warp")
    table: Table = [("photo", *stages, "whole / bare decode + detect")]
    for file in FILES:
        data = (truth.DEMO / "photos" / file).read_bytes()
        works = [_decode(data), _find(data), _whole(data), *_bare(data)]
        decode, find, whole, bare_decode, bare_detect, bare_warp = _fastest(works, times)
        ms = (decode, find, whole - decode - find, whole, bare_decode, bare_detect, bare_warp)
        table.append((file, *(f"{1000 * t:.0f}" for t in ms), f"{whole / (bare_decode + bare_detect):.2f}"))
    return table


def _decode(data: bytes) -> Callable[[], object]:
    return lambda: read_photo(data, "photo", colour=False)


def _find(data: bytes) -> Callable[[], object]:
    gray = read_photo(data, "photo", colour=False).gray
    return lambda: _markers(gray)


def _whole(data: bytes) -> Callable[[], object]:
    return lambda: detect(read_photo(data, "photo", colour=False).gray, "photo")


def _bare(data: bytes) -> list[Callable[[], object]]:
    """What no program can do without: decode, detect with the usual parameters, warp to an elevation."""
    colour = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    gray = cv2.cvtColor(colour, cv2.COLOR_BGR2GRAY)
    reader = cv2.aruco.ArucoDetector(cards.dictionary(), cv2.aruco.DetectorParameters())
    H = np.array([[0.75, 0.02, 3.0], [0.01, 0.57, 5.0], [1e-6, 1e-6, 1.0]])
    return [
        lambda: cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR),
        lambda: reader.detectMarkers(gray),
        lambda: cv2.warpPerspective(colour, H, ELEVATION),
    ]


def photo_to_elevation(times: int = 7) -> Table:
    """One photo from bytes to a solved wall and its elevation, over bare decode, detect and warp in the same run.

    Once step by step, and once with the colours decoded on another thread while the luma is searched and solved.
    """
    table: Table = [("photo", "in turn, ms", "colours meanwhile, ms", "bare, ms", "in turn", "colours meanwhile")]
    for file in FILES[:2]:
        data = (truth.DEMO / "photos" / file).read_bytes()
        works = [_to_elevation(data, file), _to_elevation(data, file, meanwhile=True), *_bare(data)]
        turn, meanwhile, *bare = _fastest(works, times)
        ms = (f"{1000 * t:.0f}" for t in (turn, meanwhile, sum(bare)))
        table.append((file, *ms, *(f"{t / sum(bare):.2f}" for t in (turn, meanwhile))))
    return table


def _to_elevation(data: bytes, name: str, *, meanwhile: bool = False) -> Callable[[], object]:
    def work() -> object:
        with ThreadPoolExecutor(1) as pool:
            colour = pool.submit(read_photo, data, name)
            picture = read_photo(data, name, colour=False) if meanwhile else colour.result()
            found = detect(picture.gray, name).cards
            seen = Seen(name, picture.size, picture.focal_35, picture.phone, found, picture.turn)
            solution = measure_wall(Wall(name="wall"), [seen], PrintRun()).solution
            view = View(name, colour.result().rgb, solution.camera(name))
        return elevation([view], (-12.0, -24.0, 156.0, 72.0), 18.0)

    return work


def two_at_once(times: int = 7) -> Table:
    """Two photos searched on two threads against the same two in a row: 0.5 would be perfect."""
    one, other = (_whole((truth.DEMO / "photos" / file).read_bytes()) for file in FILES[:2])

    def in_a_row() -> None:
        one()
        other()

    with ThreadPoolExecutor(2) as pool:
        row, together = _fastest([in_a_row, lambda: list(pool.map(lambda work: work(), (one, other)))], times)
    head = ("in a row, ms", "at once, ms", "ratio")
    return [head, (f"{1000 * row:.0f}", f"{1000 * together:.0f}", f"{together / row:.2f}")]


def peak_memory() -> Table:
    """Resident memory at its highest in fresh processes: after the imports alone, and after a photo."""
    rows = {"imports alone": "nothing", "photo to cards": "cards", "bare decode + detect": "bare"}
    return [("what", "MB"), *((what, f"{_peak(job):.0f}") for what, job in rows.items())]


def _peak(job: str) -> float:
    # A process started by the usual ways counts its parent's memory as once its own; a fork server is a small parent.
    with multiprocessing.get_context("forkserver").Pool(1) as pool:
        return float(pool.apply(_used, (job,)))


def _used(job: str) -> float:
    data = (truth.DEMO / "photos" / FILES[0]).read_bytes()
    if job == "cards":
        _whole(data)()
    elif job == "bare":
        gray = cv2.cvtColor(cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR), cv2.COLOR_BGR2GRAY)
        cv2.aruco.ArucoDetector(cards.dictionary(), cv2.aruco.DetectorParameters()).detectMarkers(gray)
    unit = 1 if sys.platform == "darwin" else 1024  # bytes there, KiB on Linux
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e6


def _fastest(works: list[Callable[[], object]], times: int) -> list[float]:
    """The least seconds of each, their turns alternating."""
    least = [float("inf")] * len(works)
    for _ in range(times):
        for i, work in enumerate(works):
            start = time.perf_counter()
            work()
            least[i] = min(least[i], time.perf_counter() - start)
    return least


if __name__ == "__main__":
    main()
