"""What was found in each photo, kept in the job's measured/ folder so that a photo is searched only once."""

import hashlib
from contextlib import suppress
from datetime import datetime

import numpy as np
from pydantic import ValidationError

from capture.detect import CardSighting, Detection, detect
from capture.net import Seen
from capture.photos import Picture, read_photo
from capture.record import Photo, Record
from capture.survey import Finding, Grade
from wainscribe.job import JobFolder, write_whole

SEARCH = 2  # raised when `capture.detect` finds differently, so that old findings are not reused


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
    cards: tuple[StoredCard, ...]
    findings: tuple[StoredFinding, ...]

    def seen(self, photo: str) -> Seen:
        """As the adjustment wants it."""
        cards = tuple(
            CardSighting(c.number, np.array(c.which, np.intp), np.array(c.points, float), np.array(c.marker, float))
            for c in self.cards
        )
        return Seen(photo, self.size, self.focal_35, self.phone, cards, self.turn)

    def told(self) -> tuple[Finding, ...]:
        """What a person should know about the photo."""
        return tuple(Finding(f.code, f.place, f.sentence, f.remedy, f.grade) for f in self.findings)


def search_photo(folder: JobFolder, photo: Photo) -> Measured:
    """What a photo of the job shows; searched anew if its file or the search has changed.

    Raises
    ------
    PlainError
        The photo is missing or cannot be read.
    """
    data = folder.read_photo(photo.file)
    sha = hashlib.sha256(data).hexdigest()
    store = folder.measured / f"{photo.file}.json"
    try:
        kept = Measured.model_validate_json(store.read_bytes())
        if kept.search == SEARCH and kept.sha256 == sha:
            return kept
    except (OSError, ValidationError):
        pass  # never searched, or by another version: search now
    picture = read_photo(data, photo.name)
    measured = _measured(picture, detect(picture.gray, photo.name), sha)
    with suppress(OSError):  # keeping it only saves time; a job on a read-only disk is measured all the same
        folder.measured.mkdir(exist_ok=True)
        write_whole(store, measured.model_dump_json())
    return measured


def seen_in(picture: Picture, found: Detection, photo: str) -> Seen:
    """A photo as the adjustment wants it, without keeping it."""
    return _measured(picture, found, "").seen(photo)


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
        cards=cards,
        findings=findings,
    )
