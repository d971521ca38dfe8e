"""Pictures for the pages: upright, no larger than asked for, and with nothing that tells where or by whom.

They are kept in the job's measured/ folder under what they were made from, and made anew when missing.
"""

import hashlib
import json
from collections import OrderedDict
from collections.abc import Callable
from contextlib import suppress
from io import BytesIO
from pathlib import Path
from threading import Lock

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from capture.photos import read_photo
from capture.record import Kind, Photo
from layout.plan import WallPlan
from layout.scheme import Scheme
from report.boxes import planned_places
from report.overlay import WORK_WIDTH, overlay
from report.pictures import Source, shrink
from wainscribe.actions import ActionError, SolvedWall, find_photo
from wainscribe.disk import write_whole
from wainscribe.folder import JobFolder
from wainscribe.seen import look_at, search_photo

WIDTHS = (240, 480, 960, 1600, 2400, 4000)  # px: few, so that few are kept
QUALITY = 88
MOST_KEPT = 300  # files of a job
MOST_OPEN = 6  # photos in memory, 12 to 50 MB each
_WHOLE = 10**6


class Opened:
    """The photos opened last, decoded once for several looks."""

    def __init__(self, most: int = MOST_OPEN) -> None:
        self.most = most
        self.grays: OrderedDict[tuple[str, str], NDArray[np.uint8]] = OrderedDict()
        self.lock = Lock()

    def gray(self, folder: JobFolder, photo: Photo) -> NDArray[np.uint8]:
        """Upright luma of a photo."""
        key = (str(folder.path), photo.file)
        with self.lock:
            if key not in self.grays:
                self.grays[key] = read_photo(folder.read_photo(photo.file), photo.name, colour=False).gray
                while len(self.grays) > self.most:
                    self.grays.popitem(last=False)
            self.grays.move_to_end(key)
            return self.grays[key]


def preview(folder: JobFolder, photo: Photo, width: int | None) -> bytes:
    """A photo as JPEG, at least `width` px wide if the photo is; None is its full size."""
    wide = _WHOLE if width is None else next((w for w in WIDTHS if w >= width), _WHOLE)
    made_from = f"photo-{search_photo(folder, photo).sha256[:20]}-{'whole' if wide == _WHOLE else wide}"
    return kept(folder, f"{made_from}.jpg", lambda: clean_jpeg(look_at(folder, photo).rgb, wide))


def overlaid(
    folder: JobFolder, solved: SolvedWall, plan: WallPlan, scheme: Scheme, photo: str, width: int | None
) -> bytes:
    """A photo with the planned frames drawn on it, as JPEG."""
    found, solution = find_photo(solved.wall, photo), solved.measured.solution
    if found.name not in {shot.name for shot in solution.net.shots}:
        raise ActionError(f"“{found.name}” is not solved, so nothing can be drawn on it; it needs a card in view.")
    camera = solution.camera(found.name)
    behind = float(scheme.behind)
    wide = next((w for w in WIDTHS if w >= (width or WORK_WIDTH)), WORK_WIDTH)
    fronts = [mark for mark in solved.wall.marks if mark.kind is Kind.IN_FRONT]
    outlines = [[(s.u, s.v) for s in mark.sights if s.photo == found.name] for mark in fronts]
    outlines = [outline for outline in outlines if len(outline) >= 3]
    made_from = [
        search_photo(folder, found).sha256, wide, behind, scheme.paint, outlines, camera.lens.tolist(),
        camera.pose.tolist(), repr((plan.frames, plan.judgements)), planned_places(plan),
    ]  # fmt: skip
    digest = hashlib.sha256(json.dumps(made_from).encode()).hexdigest()[:24]

    def draw() -> bytes:
        drawn = overlay(look_at(folder, found).rgb, camera, plan, outlines, behind, scheme.paint)
        return clean_jpeg(drawn, wide)

    return kept(folder, f"overlay-{digest}.jpg", draw)


def clean_jpeg(source: Source, width: int) -> bytes:
    """JPEG bytes from nothing but pixels."""
    out = BytesIO()
    small = shrink(source, width)
    Image.fromarray(np.asarray(small.convert("RGB"))).save(out, "JPEG", quality=QUALITY)
    return out.getvalue()


def kept(folder: JobFolder, name: str, make: Callable[[], bytes]) -> bytes:
    """A picture as it was made before, or made now and kept; its name tells what it was made from."""
    file = folder.measured / "pictures" / name
    with suppress(OSError):
        return file.read_bytes()
    data = make()
    keep(folder, name, data)
    return data


def keep(folder: JobFolder, name: str, data: bytes) -> None:
    """Keep a picture, or what belongs to one, and forget the oldest."""
    file = folder.measured / "pictures" / name
    with suppress(OSError):  # keeping it only saves time
        file.parent.mkdir(parents=True, exist_ok=True)
        write_whole(file, data)
        _forget_oldest(file.parent)


def _forget_oldest(where: Path) -> None:
    files = sorted(where.iterdir(), key=lambda file: file.stat().st_mtime_ns)
    for file in files[: max(0, len(files) - MOST_KEPT)]:
        file.unlink(missing_ok=True)
