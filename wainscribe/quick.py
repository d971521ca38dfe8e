"""Photos that take long to open, kept once more as JPEG to be looked at: HEIC opens in seven times the time of JPEG.

Nothing on the wall is measured in the copies: every pixel for that comes from the photo as taken.
"""

import shutil
from contextlib import suppress
from io import BytesIO
from pathlib import Path

from PIL import Image

from capture.errors import PlainError
from capture.photos import Picture, Pixels, read_photo
from wainscribe.disk import write_whole
from wainscribe.folder import JobFolder

QUALITY = 95  # as of pictures that are drawn on
SPARE = 10**9  # bytes that stay free: what only saves time does not fill a disk


def is_slow(data: bytes) -> bool:
    """Whether a photo's bytes are of the ISO base media format (ISO/IEC 14496-12, 4.3), as all HEIC is."""
    return data[4:8] == b"ftyp"


def keep(folder: JobFolder, sha256: str, picture: Picture) -> None:
    """Keep a copy of an upright photo, pixels alone, under the hash of the file that it was taken in."""
    with suppress(OSError):
        if shutil.disk_usage(folder.path).free < SPARE:
            return
        file, out = _file(folder, sha256), BytesIO()
        file.parent.mkdir(parents=True, exist_ok=True)
        Image.fromarray(picture.rgb).save(out, "JPEG", quality=QUALITY)
        write_whole(file, out.getvalue(), lasting=False)


def kept(folder: JobFolder, sha256: str) -> Pixels | None:
    """The copy's pixels, (height, width, 3) red, green, blue; None where there is none, or it is damaged."""
    try:
        return read_photo(_file(folder, sha256).read_bytes(), "copy").rgb
    except (OSError, PlainError):
        return None


def _file(folder: JobFolder, sha256: str) -> Path:
    return folder.measured / "quick" / f"{sha256[:32]}.jpg"
