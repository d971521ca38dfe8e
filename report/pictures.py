"""Pictures for paper: pixels only, no larger than print needs, with nothing that tells where or by whom."""

import zlib
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image

PRINT_DPI = 200
QUALITY = 82
HELD_QUALITY = 88  # of a picture that is shown large
DRAWN_ON_QUALITY = 95  # of one that is drawn on or cut before it is shown
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


def shrink(picture: Image.Image, most: int) -> Image.Image:
    """The picture, at most `most` pixels wide."""
    if picture.width <= most:
        return picture
    height = max(1, round(picture.height * most / picture.width))
    # Means over whole pixels first, which is most of the way and quick.
    return picture.resize((most, height), Image.Resampling.HAMMING, reducing_gap=1.2)


def hatched(picture: Image.Image, shown: NDArray[np.bool_], spacing: float) -> Image.Image:
    """The picture with slanting lines, `spacing` pixels apart, where it shows nothing: plain in black and white too."""
    pixels = np.array(picture.convert("RGB"))
    row, column = np.ogrid[: pixels.shape[0], : pixels.shape[1]]
    line = (row + column) % (spacing * np.sqrt(2)) < max(1.0, spacing * HATCH_WEIGHT)
    pixels[~shown] = 255
    pixels[~shown & line] = HATCH_INK
    return Image.fromarray(pixels)


# A house has more pictures than a machine has memory for: each is read, or unpacked, when it is looked at.

Source = Image.Image | Callable[[], Image.Image]


def looked_at(source: Source) -> Image.Image:
    """The picture itself, upright RGB."""
    return source if isinstance(source, Image.Image) else source()


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


@dataclass(frozen=True)
class HeldMask:
    """Which pixels of a picture count, (height, width), in a hundredth of its memory; None is all."""

    shape: tuple[int, int] | None
    data: bytes = b""

    @classmethod
    def of(cls, mask: NDArray[np.bool_] | None) -> "HeldMask":
        """The mask, packed."""
        if mask is None:
            return cls(None)
        return cls((mask.shape[0], mask.shape[1]), zlib.compress(np.packbits(mask).tobytes(), 1))

    def __call__(self) -> NDArray[np.bool_] | None:
        """The mask, whole."""
        if self.shape is None:
            return None
        bits = np.frombuffer(zlib.decompress(self.data), np.uint8)
        return np.unpackbits(bits, count=self.shape[0] * self.shape[1]).reshape(self.shape).astype(bool)
