"""How fast a photo becomes measured cards and an elevation, against bare OpenCV calls in the same run; in what memory.

``python -m tests.bench_speed`` prints the tables; `tests.bench` may take them in. Nothing here can fail a test.
"""

import multiprocessing
import resource
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from tempfile import TemporaryDirectory

import cv2
import numpy as np

from capture import cards
from capture.detect import detect
from capture.markers import find_markers
from capture.photos import Picture, read_photo
from capture.record import Photo
from report.papers import Elevation
from report.pictures import size_of
from tests import truth
from wainscribe import actions
from wainscribe.seen import in_colour
from wainscribe.straight_on import straight_on

FILES = ("long-wall-1.jpg", "long-wall-2.jpg", "passage-wall.jpg")
ELEVATION = (14 * 12 * 18, 8 * 12 * 18)  # px: 14 ft by 8 ft at 18 px an inch
WAYS = ("meanwhile", "in turn")
Table = list[tuple[str, ...]]


def main() -> None:
    """Print every table."""
    from tests.bench import show  # here, for that module takes these tables in

    show("A photo to measured cards, ms and over bare OpenCV", photo_to_cards())
    show("One photo to solved and elevation, over bare decode, detect and warp", photo_to_elevation())
    show("Four photos searched on two threads, over one after the other", two_at_once())
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
    return lambda: find_markers(gray)


def _whole(data: bytes) -> Callable[[], object]:
    return lambda: detect(read_photo(data, "photo", colour=False).gray, "photo")


def _bare(data: bytes, drawn: tuple[int, int] = ELEVATION) -> list[Callable[[], object]]:
    """What no program can do without: decode, detect with the usual parameters, warp to an elevation."""
    colour = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    gray = cv2.cvtColor(colour, cv2.COLOR_BGR2GRAY)
    reader = cv2.aruco.ArucoDetector(cards.dictionary(), cv2.aruco.DetectorParameters())
    H = np.array([[0.75, 0.02, 3.0], [0.01, 0.57, 5.0], [1e-6, 1e-6, 1.0]])
    return [
        lambda: cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR),
        lambda: reader.detectMarkers(gray),
        lambda: cv2.warpPerspective(colour, H, drawn),
    ]


def photo_to_elevation(times: int = 7) -> Table:
    """One photo on the disk to a solved wall and its elevation, over bare decode, detect and warp to the same size.

    Both ways are the program's own. Colours meanwhile: another thread decodes them while luma is searched and the wall
    solved, as `wainscribe.papers.ready` does. In turn: they are decoded once the wall is solved, as the desk does. The
    last column is the processor time of the former, on all cores, over that of the bare calls: the busier the machine,
    the nearer the others come to it. The elevation is pixels, as the bare warp's picture is.
    """
    table: Table = [("photo", "meanwhile, ms", "in turn, ms", "bare, ms", "meanwhile", "in turn", "processor time")]
    for file in FILES:
        with TemporaryDirectory() as place:
            meanwhile, in_turn = (_to_elevation(Path(place) / word, file, word == "meanwhile") for word in WAYS)
            works = [
                meanwhile,
                in_turn,
                *_bare((truth.DEMO / "photos" / file).read_bytes(), size_of(meanwhile().source)),
            ]
            ahead, turn, *bare = _fastest(works, times)
            spent, _, *least = _fastest(works, times, time.process_time)
        ms = (f"{1000 * t:.0f}" for t in (ahead, turn, sum(bare)))
        table.append((file, *ms, *(f"{t:.2f}" for t in (ahead / sum(bare), turn / sum(bare), spent / sum(least)))))
    return table


def _to_elevation(path: Path, file: str, meanwhile: bool) -> Callable[[], Elevation]:
    folder = actions.new_job(path, "bench")
    actions.set_wall(folder, "wall", None, {})
    photo, _ = actions.add_photo(folder, "wall", truth.DEMO / "photos" / file)
    job = folder.load()

    def read(one: Photo) -> Picture:
        return read_photo(folder.read_photo(one.file), one.name)

    def work() -> Elevation:
        for kept in folder.measured.glob("*.json"):
            kept.unlink()
        with ThreadPoolExecutor(1) as ahead:
            colours = ahead.submit(read, photo) if meanwhile else None
            (solved,) = actions.solve_job(folder, job)
        pictures = {photo.name: colours.result()} if colours else in_colour([photo], read)
        drawn = straight_on(solved, pictures)
        assert drawn is not None
        return drawn

    return work


def two_at_once(times: int = 7) -> Table:
    """Four photos on two threads, over the same on one thread, with two cores to use: 0.5 would be perfect.

    First bare decodes, which never hold Python's lock, and OpenCV kept to one thread: what the machine gives at the
    time. On one whose cores others use it is no 0.5 either, and nothing below it can be. Then searches likewise: what
    our threads bring, since Python's lock is free while OpenCV decodes, finds and samples. Then searches as the program
    runs, with OpenCV's own threads: one photo alone then looks for its markers on both cores, so less is left to gain.
    """
    data = [(truth.DEMO / "photos" / file).read_bytes() for file in 2 * FILES[:2]]
    searches, decodes = [_whole(one) for one in data], [_bare(one)[0] for one in data]

    def on(threads: int, works: list[Callable[[], object]]) -> Callable[[], object]:
        def work() -> None:
            with ThreadPoolExecutor(threads) as pool:
                list(pool.map(lambda one: one(), works))

        return work

    table: Table = [("what", "OpenCV's own threads", "in a row, ms", "at once, ms", "ratio")]
    usual = cv2.getNumThreads()
    for what, works, own in (("bare decode", decodes, 1), ("search", searches, 1), ("search", searches, usual)):
        cv2.setNumThreads(own)
        row, together = _fastest([on(1, works), on(2, works)], times)
        table.append((what, str(own), f"{1000 * row:.0f}", f"{1000 * together:.0f}", f"{together / row:.2f}"))
    cv2.setNumThreads(usual)
    return table


def peak_memory() -> Table:
    """Resident memory at its highest in fresh processes: after the imports alone, and after a photo."""
    rows = {
        "imports alone": "nothing", "photo to cards": "cards", "photo to solved and elevation": "elevation",
        "bare decode + detect": "bare",
    }  # fmt: skip
    return [("what", "MB"), *((what, f"{_peak(job):.0f}") for what, job in rows.items())]


def _peak(job: str) -> float:
    # A process started by the usual ways counts its parent's memory as once its own; a fork server is a small parent.
    with multiprocessing.get_context("forkserver").Pool(1) as pool:
        return float(pool.apply(_used, (job,)))


def _used(job: str) -> float:
    data = (truth.DEMO / "photos" / FILES[0]).read_bytes()
    if job == "cards":
        _whole(data)()
    elif job == "elevation":
        with TemporaryDirectory() as place:
            _to_elevation(Path(place) / "job", FILES[0], meanwhile=True)()
    elif job == "bare":
        gray = cv2.cvtColor(cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR), cv2.COLOR_BGR2GRAY)
        cv2.aruco.ArucoDetector(cards.dictionary(), cv2.aruco.DetectorParameters()).detectMarkers(gray)
    unit = 1 if sys.platform == "darwin" else 1024  # bytes there, KiB on Linux
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e6


def _fastest(
    works: list[Callable[[], object]], times: int, clock: Callable[[], float] = time.perf_counter
) -> list[float]:
    """The least seconds of each by a clock, their turns alternating."""
    least = [float("inf")] * len(works)
    for _ in range(times):
        for i, work in enumerate(works):
            start = clock()
            work()
            least[i] = min(least[i], clock() - start)
    return least


if __name__ == "__main__":
    main()
