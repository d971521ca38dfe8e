"""Photographs in: any phone's file to upright pixels, or one sentence that says why not.

The original bytes are never changed; every pixel that is measured comes from `read_photo`, so there is one
notion of upright and one pixel frame (centre of the first pixel at (0, 0)).
"""

import io
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from math import hypot
from threading import Lock

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageFile, UnidentifiedImageError
from pillow_heif import register_heif_opener

from capture.errors import PlainError

register_heif_opener()

FORMATS = ("JPEG", "PNG", "HEIF")  # Pillow opens an MPO, which some phones write, as a JPEG
MOST_PIXELS = 50_000_000
LEAST_SIDE = 64
# EXIF orientation: quarter turns clockwise to upright; the mirrored ones no phone writes.
TURNS = {1: 0, 2: 0, 3: 2, 4: 2, 5: 1, 6: 1, 7: 3, 8: 3}
MIRRORED = (2, 4, 5, 7)  # left and right changed over after the turn
ROTATIONS = {1: cv2.ROTATE_90_CLOCKWISE, 2: cv2.ROTATE_180, 3: cv2.ROTATE_90_COUNTERCLOCKWISE}
FRAME_35 = (36.0, 24.0)  # mm
STRIP = 64  # rows: a strip of a 12 megapixel photo fits the processor's cache
_OPENING = Lock()  # what Python warns of is one list for all threads

Pixels = NDArray[np.uint8]


class PhotoError(PlainError, ValueError):
    """A file that cannot be used as a photo."""


@dataclass(frozen=True)
class Picture:
    """An upright photograph with what its EXIF says of lens and time."""

    pixels: Pixels  # (height, width, 3) red, green, blue; or (height, width) luma, as it was read
    focal_35: float | None  # FocalLengthIn35mmFilm, mm; None where absent or 0
    phone: str  # make and model, or ""
    taken: datetime | None
    turn: int = 0  # quarter turns clockwise that brought it upright
    zoom: float = 1.0  # DigitalZoomRatio; 1 where absent or 0
    full_size: tuple[int, int] | None = None  # PixelXDimension, PixelYDimension, turned upright; None where absent

    @property
    def size(self) -> tuple[int, int]:
        """Width and height, px."""
        return self.pixels.shape[1], self.pixels.shape[0]

    @property
    def rgb(self) -> Pixels:
        """Red, green, blue, (height, width, 3); grey where the photo was read without colour."""
        return self.pixels if self.pixels.ndim == 3 else np.asarray(cv2.cvtColor(self.pixels, cv2.COLOR_GRAY2RGB))

    @property
    def gray(self) -> Pixels:
        """Luma, (height, width)."""
        return self.pixels if self.pixels.ndim == 2 else np.asarray(cv2.cvtColor(self.pixels, cv2.COLOR_RGB2GRAY))

    @property
    def resized(self) -> bool:
        """Whether it is not of the size that its camera wrote: cropped or scaled since.

        Either way up counts as the same size: some programs turn the pixels and leave the two tags. False does not
        prove a whole picture, for some programs write the tags anew.
        """
        return self.full_size is not None and sorted(self.full_size) != sorted(self.size)


def read_photo(data: bytes, name: str, *, colour: bool = True) -> Picture:
    """Decode a photo upright.

    Parameters
    ----------
    data
        The file's bytes: JPEG, PNG or HEIC, at most 50 megapixels.
    name
        What to call it in a message.
    colour
        False where the luma is enough: a JPEG holds it by itself, and it comes out in two thirds of the time.

    Raises
    ------
    PhotoError
        Not a photo, cut short, too many pixels, or too small to measure anything in.
    """
    ImageFile.LOAD_TRUNCATED_IMAGES = False  # WeasyPrint turns it on: a photo cut short would pass for whole
    try:
        with opened(data) as image:
            _check_size(image.size, name)
            exif = image.getexif()
            details = exif.get_ifd(ExifTags.IFD.Exif)
            orientation = exif.get(ExifTags.Base.Orientation, 1)
            # HEIC comes upright from its decoder, which keeps what the tag said.
            turn = TURNS.get(image.info.get("original_orientation") or orientation, 0)
            pixels = _upright(_decoded(data, image, colour), orientation)
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
        pixels=pixels,
        focal_35=_number(details.get(ExifTags.Base.FocalLengthIn35mmFilm), 5, 1000),
        phone=_phone(exif.get(ExifTags.Base.Make, ""), exif.get(ExifTags.Base.Model, "")),
        taken=_time(details.get(ExifTags.Base.DateTimeOriginal)),
        turn=turn,
        zoom=_number(details.get(ExifTags.Base.DigitalZoomRatio), 0.01, 100) or 1.0,
        full_size=_full_size(details, turn % 2 == 1),
    )


def opened(data: bytes) -> Image.Image:
    """The file's header read; the pixels come later."""
    with _OPENING, warnings.catch_warnings():
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # our own limit is stricter
        return Image.open(io.BytesIO(data), formats=FORMATS)


def _decoded(data: bytes, image: Image.Image, colour: bool) -> Pixels:
    """The pixels as stored: of a plain JPEG by OpenCV, in half of Pillow's time; what it refuses, Pillow judges."""
    if image.format in ("JPEG", "MPO") and image.mode in ("RGB", "L"):
        flags = cv2.IMREAD_IGNORE_ORIENTATION | (cv2.IMREAD_COLOR_RGB if colour else cv2.IMREAD_GRAYSCALE)
        pixels = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
        if pixels is not None and pixels.shape[1::-1] == image.size:
            return np.asarray(pixels, np.uint8)
    return _pixels(eight_bit(image), colour)


def _pixels(image: Image.Image, colour: bool) -> Pixels:
    """The picture as an array, filled strip by strip: whole, it would go through two copies more."""
    mode = "L" if image.mode == "L" and not colour else "RGB"
    pixels = np.empty((image.height, image.width, 3)[: 2 if mode == "L" else 3], np.uint8)
    for top in range(0, image.height, STRIP):
        strip = (0, top, image.width, min(top + STRIP, image.height))
        pixels[top : top + STRIP] = np.asarray(image.crop(strip).convert(mode))
    return pixels


def _upright(pixels: Pixels, orientation: int) -> Pixels:
    """Turned, and mirrored where it must be, as the EXIF orientation says; an unknown one says nothing."""
    turned = cv2.rotate(pixels, ROTATIONS[TURNS[orientation]]) if TURNS.get(orientation) else pixels
    return np.asarray(cv2.flip(turned, 1) if orientation in MIRRORED else turned, np.uint8)


def _check_size(size: tuple[int, int], name: str) -> None:
    if size[0] * size[1] > MOST_PIXELS:
        raise PhotoError(_too_many(name))
    if min(size) < LEAST_SIDE:
        raise PhotoError(f"“{name}” is only {size[0]} × {size[1]} pixels; send the full photo, not a preview.")


def _too_many(name: str) -> str:
    return f"“{name}” has more than 50 megapixels; set the phone to 12 or 50 megapixels and take it again."


def eight_bit(image: Image.Image) -> Image.Image:
    """The picture itself, but for 16-bit grey, which Pillow would cut off at 255 rather than scale."""
    return Image.fromarray((np.asarray(image) >> 8).astype(np.uint8)) if image.mode.startswith("I;16") else image


def _phone(make: object, model: object) -> str:
    return "".join(c for c in f"{make} {model}" if c.isprintable()).strip()[:80]


def _number(value: object, low: float, high: float) -> float | None:
    """A tag's number; None where it is none, or not from `low` to `high`."""
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return number if low <= number <= high else None


def _full_size(details: Mapping[int, object], on_its_side: bool) -> tuple[int, int] | None:
    """Width and height as the camera wrote them, turned upright; None where the tags do not say."""
    across, up = (
        _number(details.get(tag), 1, 1_000_000) for tag in (ExifTags.Base.ExifImageWidth, ExifTags.Base.ExifImageHeight)
    )
    if across is None or up is None:
        return None
    return (int(up), int(across)) if on_its_side else (int(across), int(up))


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
