"""How the work grows from one wall to a house of forty; and what it takes of memory and of both cores.

``python -m tests.bench_scale [WALLS ...]`` prints the tables; nothing here can fail a test. Each stage runs in a
process of its own, so that its memory is its own. Growth is told by processor time, which a busy machine disturbs
least.
"""

import multiprocessing
import os
import resource
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Event, Thread
from typing import Any, NamedTuple

import cv2

from tests.house import PHOTOS, build
from wainscribe import actions
from wainscribe.folder import JobFolder
from wainscribe.papers import make_papers
from wainscribe.seen import search_photo, search_photos

SIZES = (1, 3, 10, 40)  # walls
FEW = 12  # photos that are searched by one core and by both
HOUSE = "A job of so many walls, three photos each: processor time, s"
CORES = f"Searching {FEW} photos, OpenCV's own threads off"
EVERY = 0.2  # s between two looks at how much memory is held
Table = list[tuple[str, ...]]


class Spent(NamedTuple):
    """What one stage took."""

    seconds: float
    processor: float  # s, of all processes
    largest: float  # MB, the most that one process held
    together: float  # MB, the most that all held at once, what they share counted once


def main() -> None:
    """Print the tables."""
    from tests.bench import show  # here, for that module takes this table in

    sizes = tuple(int(word) for word in sys.argv[1:]) or SIZES
    show(HOUSE, house(sizes))
    show(CORES, cores())


def house(sizes: tuple[int, ...] = SIZES) -> Table:
    """Each stage for jobs of several sizes: processor time a wall, its growth, and the memory of the largest."""
    with TemporaryDirectory() as place:
        found = {walls: _house(Path(place) / str(walls), walls) for walls in sizes}
    few, most = next((walls for walls in sizes if walls >= 3), sizes[0]), sizes[-1]
    heads = (f"{walls} walls" for walls in sizes)
    table: Table = [("stage", *heads, f"a wall, {most} over {few}", f"{most} walls: s", "MB, one process", "MB, all")]
    for stage in STAGES:
        each = [found[walls][stage] for walls in sizes]
        growth = (found[most][stage].processor / most) / (found[few][stage].processor / few)
        last = each[-1]
        table.append(
            (
                stage,
                *(f"{spent.processor:.1f}" for spent in each),
                f"{growth:.2f}",
                f"{last.seconds:.0f}",
                f"{last.largest:.0f}",
                f"{last.together:.0f}",
            )
        )
    return table


def _house(path: Path, walls: int) -> dict[str, Spent]:
    build(path, walls)
    return {stage: _apart(_stage, str(path), stage) for stage in STAGES}


def cores() -> Table:
    """One core against both, in seconds; OpenCV's own threads off, so that one is one."""
    with TemporaryDirectory() as place:
        build(Path(place) / "house", FEW // PHOTOS)
        one, both = _apart(_cores, str(Path(place) / "house"))
    return [("one core", "both", "ratio"), (f"{one:.1f} s", f"{both:.1f} s", f"{one / both:.2f}")]


def _apart(work: Callable[..., Any], *given: str) -> Any:
    """The work in a process of its own, which may have processes of its own."""
    with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as pool:
        return pool.submit(work, *given).result()


# The stages, each with what it needs done first.


def _search(folder: JobFolder) -> Callable[[], object]:
    photos = [photo for wall in folder.load().walls for photo in wall.photos]
    search_photo(folder, photos.pop())  # what is loaded once
    return lambda: search_photos(folder, photos)


def _solve(folder: JobFolder) -> Callable[[], object]:
    return lambda: actions.solve_job(folder, folder.load())


def _plan(folder: JobFolder) -> Callable[[], object]:
    job = folder.load()
    solved = actions.solve_job(folder, job)

    def work() -> None:
        plan = actions.plan_solved(job, solved)
        actions.what_next(solved, plan)
        actions.gather(job, plan)

    return work


def _papers(folder: JobFolder) -> Callable[[], object]:
    return lambda: make_papers(folder, folder.path / "papers", lambda _: None)


STAGES: dict[str, Callable[[JobFolder], Callable[[], object]]] = {
    "searching": _search,
    "measuring": _solve,
    "planning, what next, boards": _plan,
    "measuring to papers": _papers,
}


def _stage(path: str, stage: str) -> Spent:
    os.environ["XDG_CONFIG_HOME"] = path
    work = STAGES[stage](JobFolder(Path(path)))
    processor, start, watch = _processor(), time.perf_counter(), _Watch()
    work()
    seconds, spent, most = time.perf_counter() - start, _processor() - processor, watch.most()
    return Spent(seconds, spent, most.largest, most.together)


def _processor() -> float:
    """Seconds of this process and of all below it, whether they have ended or stay for the next work."""
    gone = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + gone.ru_utime + gone.ru_stime + sum(map(_spent, _with_its_own(os.getpid())[1:]))


def _spent(process: int) -> float:
    """Seconds that a process has taken, and those of its own that have ended (proc(5), stat, fields 14 to 17)."""
    fields = " ".join(_words(Path(f"/proc/{process}/stat"))).rpartition(")")[2].split()
    return sum(map(int, fields[11:15])) / os.sysconf("SC_CLK_TCK")


class Held(NamedTuple):
    """MB, the most at any time."""

    largest: float = 0.0  # of one process
    together: float = 0.0


class _Watch:
    """Looks now and then at how much memory this process and its own hold together."""

    def __init__(self) -> None:
        self._most, self._done = Held(), Event()
        self._looking = Thread(target=self._look, daemon=True)
        self._looking.start()

    def _look(self) -> None:
        while not self._done.wait(EVERY):
            processes = _with_its_own(os.getpid())
            largest, together = max(map(_highest, processes)), sum(map(_held, processes))
            self._most = Held(max(self._most.largest, largest), max(self._most.together, together))

    def most(self) -> Held:
        self._done.set()
        self._looking.join()
        return self._most


def _with_its_own(process: int) -> list[int]:
    """A process and those that it started, as Linux lists them; itself alone elsewhere."""
    own = [child for thread in Path(f"/proc/{process}/task").glob("*/children") for child in _words(thread)]
    return [process, *(each for child in own for each in _with_its_own(int(child)))]


def _words(file: Path) -> list[str]:
    """What a file of proc(5) says; nothing where its process or thread has ended since."""
    try:
        return file.read_text().split()
    except OSError:
        return []


def _held(process: int) -> float:
    """MB that a process holds, its share of what it shares with others (proc(5), smaps_rollup)."""
    return _told(f"/proc/{process}/smaps_rollup", "Pss:")


def _highest(process: int) -> float:
    """MB, the most that a process has held (proc(5), status)."""
    return _told(f"/proc/{process}/status", "VmHWM:")


def _told(file: str, name: str) -> float:
    """MB by name in a file of proc(5), which has kB; 0 where there is none."""
    words = _words(Path(file))
    return int(words[words.index(name) + 1]) / 1024 if name in words else 0.0


def _cores(path: str) -> tuple[float, float]:
    os.environ["XDG_CONFIG_HOME"] = path
    cv2.setNumThreads(1)
    folder = JobFolder(Path(path))
    photos = [photo for wall in folder.load().walls for photo in wall.photos]

    def search(workers: int) -> float:
        for photo in photos:
            (folder.measured / f"{photo.file}.json").unlink(missing_ok=True)
        start = time.perf_counter()
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(lambda photo: search_photo(folder, photo), photos))
        return time.perf_counter() - start

    search(2)  # what is loaded once
    times = [(search(1), search(2)) for _ in range(3)]  # in turn, so that a busy machine slows both
    return min(one for one, _ in times), min(both for _, both in times)


if __name__ == "__main__":
    main()
