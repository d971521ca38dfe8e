"""Photographs in: any phone's file to upright pixels, or one sentence that says why not.

The original bytes are never changed; every pixel that is measured comes from `read_photo`, so there is one
notion of upright and one pixel frame (centre of the first pixel at (0, 0)).
"""

import io
import warnings
from dataclasses import dataclass
from datetime import datetime
from math import hypot

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageFile, ImageOps, UnidentifiedImageError
from pillow_heif import register_heif_opener

from capture.errors import PlainError

register_heif_opener()

FORMATS = ("JPEG", "PNG", "HEIF")  # Pillow opens an MPO, which some phones write, as a JPEG
MOST_PIXELS = 50_000_000
LEAST_SIDE = 64
TURNS = {1: 0, 6: 1, 3: 2, 8: 3}  # EXIF orientation: quarter turns clockwise to upright; mirrored ones are not phones'
FRAME_35 = (36.0, 24.0)  # mm


class PhotoError(PlainError, ValueError):
    """A file that cannot be used as a photo."""


@dataclass(frozen=True)
class Picture:
    """An upright photograph with what its EXIF says of lens and time."""

    rgb: NDArray[np.uint8]  # (height, width, 3)
    focal_35: float | None  # FocalLengthIn35mmFilm, mm; None where absent or 0
    phone: str  # make and model, or ""
    taken: datetime | None
    turn: int = 0  # quarter turns clockwise that brought it upright

    @property
    def size(self) -> tuple[int, int]:
        """Width and height, px."""
        return self.rgb.shape[1], self.rgb.shape[0]

    @property
    def gray(self) -> NDArray[np.uint8]:
        """Luma, (height, width)."""
        return np.asarray(cv2.cvtColor(self.rgb, cv2.COLOR_RGB2GRAY), np.uint8)


def read_photo(data: bytes, name: str) -> Picture:
    """Decode a photo upright.

    Parameters
    ----------
    data
        The file's bytes: JPEG, PNG or HEIC, at most 50 megapixels.
    name
        What to call it in a message.

    Raises
    ------
    PhotoError
        Not a photo, cut short, too many pixels, or too small to measure anything in.
    """
    ImageFile.LOAD_TRUNCATED_IMAGES = False  # WeasyPrint turns it on: a photo cut short would pass for whole
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # our own limit is stricter
            with Image.open(io.BytesIO(data), formats=FORMATS) as image:
                _check_size(image.size, name)
                exif = image.getexif()
                details = exif.get_ifd(ExifTags.IFD.Exif)
                # HEIC comes upright from its decoder, which keeps what the tag said.
                turn = TURNS.get(image.info.get("original_orientation") or exif.get(ExifTags.Base.Orientation, 1), 0)
                upright = _eight_bit(ImageOps.exif_transpose(image)).convert("RGB")
    except UnidentifiedImageError:
        raise PhotoError(f"“{name}” is not a JPEG, PNG or HEIC photo; send the file as the phone took it.") from None
    except Image.DecompressionBombError:
        raise PhotoError(_too_many(name)) from None
    except PhotoError:
        raise
    except MemoryError:
        raise PhotoError(f"“{name}” needs more memory than there is; send a smaller photo.") from None
    except Exception:  # a decoder may raise anything on a broken file, and each means the same to a person
        raise PhotoError(
            f"“{name}” is damaged or cut short and cannot be read; copy it from the phone again."
        ) from None
    return Picture(
        rgb=np.asarray(upright, np.uint8),
        focal_35=_focal_35(details.get(ExifTags.Base.FocalLengthIn35mmFilm)),
        phone=_phone(exif.get(ExifTags.Base.Make, ""), exif.get(ExifTags.Base.Model, "")),
        taken=_time(details.get(ExifTags.Base.DateTimeOriginal)),
        turn=turn,
    )


def _check_size(size: tuple[int, int], name: str) -> None:
    if size[0] * size[1] > MOST_PIXELS:
        raise PhotoError(_too_many(name))
    if min(size) < LEAST_SIDE:
        raise PhotoError(f"“{name}” is only {size[0]} × {size[1]} pixels; send the full photo, not a preview.")


def _too_many(name: str) -> str:
    return f"“{name}” has more than 50 megapixels; set the phone to 12 or 50 megapixels and take it again."


def _eight_bit(image: Image.Image) -> Image.Image:
    """The picture itself, but for 16-bit grey, which Pillow would cut off at 255 rather than scale."""
    return Image.fromarray((np.asarray(image) >> 8).astype(np.uint8)) if image.mode.startswith("I;16") else image


def _phone(make: object, model: object) -> str:
    return "".join(c for c in f"{make} {model}" if c.isprintable()).strip()[:80]


def _focal_35(value: object) -> float | None:
    try:
        focal = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return focal if 5 <= focal <= 1000 else None


def _time(value: object) -> datetime | None:
    try:
        return datetime.strptime(str(value).strip("\0 "), "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None


def focal_prior(size: tuple[int, int], focal_35: float | None) -> tuple[float, float]:
    """Focal length before anything is measured, and its standard deviation, px.

    Exif does not say whether the 35 mm equivalent is by the frame's width or by its diagonal (CIPA); for a 4:3
    phone the two differ by 3.8 %, and cropped or zoomed photos differ more. So: the mean of the two, 3 %. With
    no tag, the usual main lens of a phone (26 mm), 15 %.
    """
    long, short = max(size), min(size)
    focal = focal_35 or 26.0
    by_width = focal / FRAME_35[0] * long
    by_diagonal = focal / hypot(*FRAME_35) * hypot(long, short)
    mean = (by_width + by_diagonal) / 2
    return mean, mean * (0.03 if focal_35 else 0.15)
