"""What was found in each photo, kept in the job's measured/ folder so that a photo is searched only once."""

import hashlib
import os
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from contextlib import suppress
from datetime import datetime
from functools import lru_cache, partial
from pathlib import Path
from typing import TypeVar

import numpy as np
from pydantic import ValidationError

from capture.detect import CardSighting, Detection, detect
from capture.net import Seen
from capture.photos import Picture, read_photo
from capture.record import Photo, Record
from capture.survey import Finding, Grade
from wainscribe import quick
from wainscribe.disk import write_whole
from wainscribe.folder import JobFolder

Written = tuple[str, int, int, int]  # a file by path, inode, size and time of its last change

R = TypeVar("R")

SEARCH = 5  # raised when `capture.detect` finds differently, so that old findings are not reused


class StoredCard(Record):
    """One card sighting as stored."""

    number: int
    which: tuple[int, ...]
    points: tuple[tuple[float, float], ...]
    marker: tuple[tuple[float, float], ...]


class StoredFinding(Record):
    """One finding as stored."""

    code: str
    place: str
    sentence: str
    remedy: str
    grade: Grade


class Measured(Record):
    """What one photo told."""

    search: int
    sha256: str
    size: tuple[int, int]
    focal_35: float | None
    phone: str
    taken: datetime | None
    turn: int
    zoom: float
    full_size: tuple[int, int] | None
    cards: tuple[StoredCard, ...]
    findings: tuple[StoredFinding, ...]

    def seen(self, photo: str) -> Seen:
        """As the adjustment wants it."""
        cards = tuple(
            CardSighting(c.number, np.array(c.which, np.intp), np.array(c.points, float), np.array(c.marker, float))
            for c in self.cards
        )
        return Seen(photo, self.size, self.focal_35, self.phone, cards, self.turn, self.zoom, self.full_size)

    def told(self) -> tuple[Finding, ...]:
        """What a person should know about the photo."""
        return tuple(Finding(f.code, f.place, f.sentence, f.remedy, f.grade) for f in self.findings)


def search_photo(folder: JobFolder, photo: Photo, picture: Picture | None = None) -> Measured:
    """What a photo of the job shows; searched anew if its file or the search has changed.

    Parameters
    ----------
    folder, photo
        The job and a photo of it.
    picture
        The photo where it was read already.

    Raises
    ------
    PlainError
        The photo is missing or cannot be read.
    """
    if kept := _kept(folder, photo):
        return kept
    data = folder.read_photo(photo.file)
    picture = picture or read_photo(data, photo.name, colour=False)
    measured = _measured(picture, detect(picture.gray, photo.name), hashlib.sha256(data).hexdigest())
    if quick.is_slow(data):
        quick.keep(folder, measured.sha256, picture)
    with suppress(OSError):  # keeping it only saves time; a job on a read-only disk is measured all the same
        folder.measured.mkdir(exist_ok=True)
        write_whole(_store(folder, photo), measured.model_dump_json(), lasting=False)
    return measured


def look_at(folder: JobFolder, photo: Photo) -> Picture:
    """A photo in colour for the eye alone: of one that is slow to open, its copy, which is kept where it is missing.

    Raises
    ------
    PlainError
        The photo is missing or cannot be read.
    """
    told = _kept(folder, photo)
    if told is not None and (pixels := quick.kept(folder, told.sha256)) is not None:
        return Picture(pixels, told.focal_35, told.phone, told.taken, told.turn, told.zoom, told.full_size)
    data = folder.read_photo(photo.file)
    picture = read_photo(data, photo.name)
    if told is not None and quick.is_slow(data):
        quick.keep(folder, told.sha256, picture)
    return picture


def seen_in(picture: Picture, found: Detection, photo: str) -> Seen:
    """A photo as the adjustment wants it, without keeping it."""
    return _measured(picture, found, "").seen(photo)


def search_photos(
    folder: JobFolder, photos: Sequence[Photo], tell: Callable[[str], None] = lambda _: None
) -> list[Measured]:
    """What each photo of the job shows, in their order; as many are searched at a time as there are processors.

    Parameters
    ----------
    folder, photos
        The job and photos of it.
    tell
        Told of every photo that was not searched before, as its turn comes.

    Raises
    ------
    PlainError
        A photo is missing or cannot be read: the first such one. The others are searched and kept all the same.
    """
    found: dict[str, Measured] = {}
    unsearched: dict[str, Photo] = {}
    for photo in photos:
        if kept := _kept(folder, photo):
            found[photo.file] = kept
        else:
            unsearched.setdefault(photo.file, photo)
    names = [photo.name for photo in unsearched.values()]
    searches = at_once([partial(search_photo, folder, photo) for photo in unsearched.values()], names, tell)
    found |= {file: search.result() for file, search in zip(unsearched, list(searches), strict=True)}
    return [found[photo.file] for photo in photos]


def at_once(works: Sequence[Callable[[], R]], names: Sequence[str], tell: Callable[[str], None]) -> Iterator[Future[R]]:
    """Work on photos on all processors, in their order, each as soon as it is done: OpenCV lets other threads work.

    The next photo is opened only when one is done, so no more are in memory than there are processors.
    """
    if not works:  # as for nearly every wall at every change
        return
    workers = min(len(works), os.cpu_count() or 1)
    asked: deque[Future[R]] = deque()
    running: set[Future[R]] = set()
    with ThreadPoolExecutor(workers) as pool:
        for i, (work, name) in enumerate(zip(works, names, strict=True), start=1):
            if len(running) == workers:
                _, running = wait(running, return_when=FIRST_COMPLETED)
            while asked and asked[0].done():
                yield asked.popleft()
            tell(f"looking at {i} of {len(works)}: {name}")
            asked.append(pool.submit(work))
            running.add(asked[-1])
        yield from asked


def in_colour(photos: Sequence[Photo], read: Callable[[Photo], Picture]) -> dict[str, Picture]:
    """Photos by name, decoded on all processors; the first that cannot be read raises its error."""
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        return dict(zip([photo.name for photo in photos], pool.map(read, photos), strict=True))


def _store(folder: JobFolder, photo: Photo) -> Path:
    return folder.measured / f"{photo.file}.json"


def _kept(folder: JobFolder, photo: Photo) -> Measured | None:
    """What was kept of an earlier search; None where there was none, or its file or the search has changed since."""
    try:
        written = [(file, os.stat(file)) for file in (str(folder.photo_file(photo.file)), str(_store(folder, photo)))]
    except OSError:
        return None
    return _kept_in(*((file, stat.st_ino, stat.st_size, stat.st_mtime_ns) for file, stat in written))


@lru_cache(maxsize=400)  # a program that stays, such as the desk, asks for all photos at every change
def _kept_in(original: Written, store: Written) -> Measured | None:
    """The same, of files as they were last written: path, inode, size, time."""
    try:
        kept = Measured.model_validate_json(Path(store[0]).read_bytes())
        sha256 = hashlib.sha256(Path(original[0]).read_bytes()).hexdigest()
    except (OSError, ValidationError):
        return None
    return kept if kept.search == SEARCH and kept.sha256 == sha256 else None


def _measured(picture: Picture, found: Detection, sha: str) -> Measured:
    cards = tuple(
        StoredCard(
            number=c.number,
            which=tuple(int(i) for i in c.which),
            points=tuple((float(u), float(v)) for u, v in c.points),
            marker=tuple((float(u), float(v)) for u, v in c.marker),
        )
        for c in found.cards
    )
    findings = tuple(
        StoredFinding(code=f.code, place=f.place, sentence=f.sentence, remedy=f.remedy, grade=f.grade)
        for f in found.findings
    )
    return Measured(
        search=SEARCH,
        sha256=sha,
        size=picture.size,
        focal_35=picture.focal_35,
        phone=picture.phone,
        taken=picture.taken,
        turn=picture.turn,
        zoom=picture.zoom,
        full_size=picture.full_size,
        cards=cards,
        findings=findings,
    )
