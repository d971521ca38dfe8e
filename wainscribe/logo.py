"""The installer's mark for the head of the papers: any picture in, upright pixels on white out."""

from PIL import Image, ImageFile, ImageOps

from capture.errors import PlainError
from capture.photos import MOST_PIXELS, eight_bit, opened
from report.pictures import shrink

MOST_WIDTH = 1600  # px: as much as any paper prints of it, twice over
SLIMMEST = 20  # times as long as wide: no more than a line is left of it in print


class LogoError(PlainError, ValueError):
    """A file that cannot be shown as a logo."""


def read_logo(data: bytes, name: str) -> Image.Image:
    """Decode a logo.

    Parameters
    ----------
    data
        The file's bytes: JPEG, PNG or HEIC, at most 50 megapixels; of an animated one the first picture is taken.
    name
        What to call it in a message.

    Raises
    ------
    LogoError
        No picture, cut short, too many pixels, or too long and narrow.
    """
    ImageFile.LOAD_TRUNCATED_IMAGES = False  # WeasyPrint turns it on: a file cut short would pass for whole
    try:
        with opened(data) as image:
            _check_size(image.size, name)
            return shrink(_on_white(ImageOps.exif_transpose(image)), MOST_WIDTH)
    except LogoError:
        raise
    except Image.DecompressionBombError:
        raise _too_large(name) from None
    except MemoryError:
        raise LogoError(f"“{name}” needs more memory than there is; save the logo smaller.") from None
    except Exception:  # a decoder may raise anything on a broken file, and each means the same to a person
        raise LogoError(
            f"“{name}” is no picture that a paper can show; save the logo as PNG or JPEG and give that."
        ) from None


def _check_size(size: tuple[int, int], name: str) -> None:
    if size[0] * size[1] > MOST_PIXELS:
        raise _too_large(name)
    if max(size) > SLIMMEST * min(size):
        raise LogoError(f"“{name}” is {size[0]} × {size[1]} pixels, too narrow for a logo; give the whole picture.")


def _too_large(name: str) -> LogoError:
    return LogoError(f"“{name}” has more than 50 megapixels; save the logo smaller.")


def _on_white(image: Image.Image) -> Image.Image:
    """The pixels alone, as on paper: what can be seen through is white."""
    plain = eight_bit(image)
    seen_through = plain.convert("RGBA") if plain.has_transparency_data else plain.convert("RGB")
    paper = Image.new("RGB", plain.size, "white")
    paper.paste(seen_through, mask=seen_through.getchannel("A") if seen_through.mode == "RGBA" else None)
    return paper
