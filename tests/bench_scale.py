"""How the work grows from one wall to a house of forty; and what it takes of memory and of both cores.

``python -m tests.bench_scale`` prints the tables; nothing here can fail a test.
"""

import multiprocessing
import os
import resource
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from tests.house import PHOTOS, build
from wainscribe import actions
from wainscribe.job import JobFolder
from wainscribe.papers import make_papers
from wainscribe.seen import search_photo, search_photos

SMALL, LARGE = 1, 40  # walls
Table = list[tuple[str, ...]]


def main() -> None:
    """Print the table."""
    from tests.bench import show  # here, for that module takes this table in

    show("A house of 40 walls, 120 photos", house())


def house() -> Table:
    """Each stage for one wall and for a house, a wall's or photo's share of it, and the most memory held."""
    with TemporaryDirectory() as place:
        small, large = (_stages(Path(place) / str(walls), walls) for walls in (SMALL, LARGE))
    per = {"searching, a photo": PHOTOS, "measuring and planning, a wall": 1, "papers, a wall": 1}
    table: Table = [("stage", "one wall", f"{LARGE} walls", "ratio")]
    for stage, each in per.items():
        one, many = small[stage] / (SMALL * each), large[stage] / (LARGE * each)
        table.append((stage, f"{one:.2f} s", f"{many:.2f} s", f"{many / one:.2f}"))
    table.append(("papers, all", f"{small['papers, a wall']:.1f} s", f"{large['papers, a wall']:.1f} s", ""))
    table.append(("searching, both cores over one", "", f"{large['one core'] / large['both cores']:.2f} times", ""))
    table.append(("most memory held", f"{small['MB']:.0f} MB", f"{large['MB']:.0f} MB", ""))
    return table


def _stages(path: Path, walls: int) -> dict[str, float]:
    """Times in seconds, and memory in MB, of a process of its own."""
    build(path, walls)
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return dict(pool.apply(_work, (str(path), walls)))


def _work(path: str, walls: int) -> dict[str, float]:
    os.environ["XDG_CONFIG_HOME"] = path
    folder = JobFolder(Path(path))
    job = folder.load()
    photos = [p for wall in job.walls for p in wall.photos]
    search_photo(folder, photos[0])  # what is loaded once
    told = {"searching, a photo": _timed(lambda: search_photos(folder, photos))}
    told["measuring and planning, a wall"] = _timed(lambda: actions.plan_job(folder, job))
    told["papers, a wall"] = _timed(lambda: make_papers(folder, folder.path / "papers", lambda _: None))
    told["MB"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    if walls > SMALL:
        told |= _cores(folder, photos[:12])
    return told


def _cores(folder: JobFolder, photos: list[Any]) -> dict[str, float]:
    def search(workers: int) -> None:
        for photo in photos:
            (folder.measured / f"{photo.file}.json").unlink(missing_ok=True)
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(lambda photo: search_photo(folder, photo), photos))

    return {"one core": _timed(lambda: search(1)), "both cores": _timed(lambda: search(2))}


def _timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


if __name__ == "__main__":
    main()
