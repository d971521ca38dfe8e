"""Pictures for paper: pixels only, no larger than print needs, with nothing that tells where or by whom."""

from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

PRINT_DPI = 200
QUALITY = 82
HELD_QUALITY = 88  # of a picture that is shown large
LOGO_DPI = 400  # thin lettering wants more than a photo
HATCH_INK = 70  # grey level
HATCH_WEIGHT = 0.15  # of the spacing


def jpeg(picture: Image.Image, paper_width: float) -> bytes:
    """JPEG bytes of an upright picture for `paper_width` inches of paper.

    The pixels are copied into a new picture, so that no EXIF, GPS position, thumbnail, XMP or profile comes along.
    """
    most = max(1, round(paper_width * PRINT_DPI))
    out = BytesIO()
    _pixels_alone(picture, most).save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()


def png(picture: Image.Image, paper_width: float) -> bytes:
    """PNG bytes of a logo for `paper_width` inches of paper, as clean as a `jpeg` and sharp in its lettering."""
    out = BytesIO()
    _pixels_alone(picture, max(1, round(paper_width * LOGO_DPI))).save(out, "PNG", optimize=True)
    return out.getvalue()


def _pixels_alone(picture: Image.Image, most: int) -> Image.Image:
    small = shrink(picture.convert("RGB"), most)
    clean = Image.new("RGB", small.size)
    clean.paste(small)
    return clean


def hatched(picture: Image.Image, shown: NDArray[np.bool_], spacing: float) -> Image.Image:
    """The picture with slanting lines, `spacing` pixels apart, where it shows nothing: plain in black and white too."""
    pixels = np.array(picture.convert("RGB"))
    row, column = np.ogrid[: pixels.shape[0], : pixels.shape[1]]
    line = (row + column) % (spacing * np.sqrt(2)) < max(1.0, spacing * HATCH_WEIGHT)
    pixels[~shown] = 255
    pixels[~shown & line] = HATCH_INK
    return Image.fromarray(pixels)


# A house has more pictures than a machine has memory for: each is read, or unpacked, when it is looked at. A photo
# just decoded is looked at as it lies: made into a picture whole, it would fill a third more memory once again.

Pixels = NDArray[np.uint8]  # (height, width, 3) red, green, blue
Source = Image.Image | Pixels | Callable[[], Image.Image]


def looked_at(source: Source) -> Image.Image:
    """The picture itself, upright RGB."""
    if isinstance(source, np.ndarray):
        return Image.fromarray(source)
    return source if isinstance(source, Image.Image) else source()


def size_of(source: Source) -> tuple[int, int]:
    """Width and height, px."""
    if isinstance(source, np.ndarray):
        return source.shape[1], source.shape[0]
    return source.size if isinstance(source, Held) else looked_at(source).size


def shrink(source: Source, most: int) -> Image.Image:
    """The picture, at most `most` pixels wide."""
    width, height = size_of(source)
    if width <= most:
        return looked_at(source)
    size = most, max(1, round(height * most / width))
    if isinstance(source, np.ndarray):
        if width % 2 == height % 2 == 0 and width >= 2 * most:  # at means of four pixels OpenCV is quickest
            source = np.asarray(cv2.resize(source, (width // 2, height // 2), interpolation=cv2.INTER_AREA), np.uint8)
        return Image.fromarray(cv2.resize(source, size, interpolation=cv2.INTER_AREA))
    # Means over whole pixels first, which is most of the way and quick.
    return looked_at(source).resize(size, Image.Resampling.HAMMING, reducing_gap=1.2)


def cut(source: Source, box: tuple[int, int, int, int]) -> Image.Image:
    """The part of a picture between left, upper, right and lower, px."""
    if isinstance(source, np.ndarray):
        left, upper, right, lower = box
        return Image.fromarray(source[upper:lower, left:right])
    return looked_at(source).crop(box)


@dataclass(frozen=True, eq=False)
class Held:
    """A picture in a twentieth of its memory, which goes into papers as it is."""

    jpeg: bytes  # pixels alone
    size: tuple[int, int]

    def __call__(self) -> Image.Image:
        """The picture itself."""
        return Image.open(BytesIO(self.jpeg)).convert("RGB")


def held(source: Source, quality: int = HELD_QUALITY) -> Held:
    """A picture that is already as fine as print needs, ready for every paper that shows it."""
    picture = looked_at(source)
    out = BytesIO()
    _pixels_alone(picture, picture.width).save(out, "JPEG", quality=quality, optimize=True)
    return Held(out.getvalue(), picture.size)
