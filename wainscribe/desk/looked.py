"""What one photo shows, at once: its cards, how sharp it is, what was noticed."""

import json
from contextlib import suppress
from typing import Any

import cv2

from capture.cards import saddle_points
from capture.detect import CardSighting
from capture.mosaic import blur_of
from capture.record import Photo
from wainscribe import told
from wainscribe.desk.pictures import Opened
from wainscribe.disk import write_whole
from wainscribe.folder import JobFolder
from wainscribe.seen import Measured, search_photo

# Standard deviations of the blur at the targets' edges, px. A phone's sharp photo has 0.5 to 1.2 of them; from 2.5 on
# the saddle points scatter visibly more (the bench's table of simulated corners).
SHARP, SOFT = 1.5, 2.5


def looked_at(folder: JobFolder, photo: Photo, opened: Opened) -> dict[str, Any]:
    """What a photo shows.

    Returns
    -------
    dict
        ``size`` px; ``cards`` with their numbers and outlines of four pixels; ``sharpness``: ``blur`` in px (standard
        deviation, the median over its cards; null where it shows none large enough) and a ``word``; ``findings``.
    """
    found = search_photo(folder, photo)
    blur = _blur(folder, photo, found, opened)
    return {
        "size": list(found.size),
        "cards": [{"number": card.number, "outline": _outline(card)} for card in found.seen(photo.name).cards],
        "sharpness": {"blur": blur, "word": _word(blur)},
        "findings": [told.finding(one) for one in found.told()],
    }


def _outline(card: CardSighting) -> list[list[float]]:
    """The corner targets of a card, those that were not seen too: by the homography of those that were."""
    corners = saddle_points()
    H, _ = cv2.findHomography(corners[card.which], card.points)
    around = corners[[0, 1, 3, 2]].reshape(-1, 1, 2)  # top left, then clockwise
    return [[float(u), float(v)] for u, v in cv2.perspectiveTransform(around, H).reshape(-1, 2)]


def _word(blur: float | None) -> str:
    if blur is None:
        return "not known"
    return "sharp" if blur < SHARP else "soft" if blur < SOFT else "blurred"


def _blur(folder: JobFolder, photo: Photo, found: Measured, opened: Opened) -> float | None:
    """The blur as reckoned before, or now and kept beside what was found in the photo."""
    file = folder.measured / f"{photo.file}.blur.json"
    with suppress(OSError, ValueError, KeyError, TypeError):
        kept = json.loads(file.read_bytes())
        if kept["sha256"] == found.sha256:
            return None if kept["blur"] is None else float(kept["blur"])
    blur = blur_of(opened.gray(folder, photo), found.seen(photo.name).cards) or None if found.cards else None
    with suppress(OSError):
        write_whole(file, json.dumps({"sha256": found.sha256, "blur": blur}))
    return blur
