"""What the tests of the papers share: a paper made without a complaint, and read back by pypdf."""

import functools
import logging
from collections.abc import Callable, Iterator
from io import BytesIO

import numpy as np
from pypdf import PdfReader
from skimage.color import rgb2xyz

HOSTILE = (
    '<script>alert("x")</script> \u202e\u0645\u0631\u062d\u0628\u0627\u202c \U0001f600 \x07\'";}body{display:none}'
)


class Loud(logging.Handler):
    """Whatever the PDF maker complains about."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.said: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.said.append(record.getMessage())


def quietly(make: Callable[..., bytes], *arguments, **more) -> bytes:
    """The paper; any complaint while it is made fails the test, but for a letter that no font has."""
    loud = Loud()
    logger = logging.getLogger("weasyprint")
    logger.addHandler(loud)
    try:
        data = make(*arguments, **more)
    finally:
        logger.removeHandler(loud)
    assert [said for said in loud.said if ".notdef glyph" not in said] == []
    return data


def read(data: bytes) -> PdfReader:
    return PdfReader(BytesIO(data))


def page_words(page) -> str:
    return " ".join(page.extract_text().split())


@functools.cache
def words(reader: PdfReader) -> str:
    return " ".join(page_words(page) for page in reader.pages)


def bookmarks(reader: PdfReader) -> list[str]:
    return [item.title for item in _flat(reader.outline)]


def _flat(outline) -> list:
    return [item for entry in outline for item in (_flat(entry) if isinstance(entry, list) else [entry])]


def tagged(reader: PdfReader, tag: str) -> Iterator:
    """The elements of the structure tree that have a tag."""
    waiting = [reader.trailer["/Root"]["/StructTreeRoot"]]
    while waiting:
        node = waiting.pop()
        if node.get("/S") == tag:
            yield node
        kids = node.get("/K", [])
        kids = [kid.get_object() for kid in (kids if isinstance(kids, list) else [kids]) if hasattr(kid, "get_object")]
        waiting += [kid for kid in kids if hasattr(kid, "get")]


def embedded_pictures(reader: PdfReader) -> Iterator[bytes]:
    """The JPEG files that lie in a paper, as they lie there."""
    for thing in range(1, reader.trailer["/Size"]):
        held = reader.get_object(thing)
        if hasattr(held, "get") and held.get("/Filter") == "/DCTDecode":
            yield held._data


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance: Y of sRGB, by scikit-image."""
    rgb = np.array([[[int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]]])
    return float(rgb2xyz(rgb)[0, 0, 1])


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, contrast ratio."""
    low, high = sorted([luminance(one), luminance(other)])
    return (high + 0.05) / (low + 0.05)
