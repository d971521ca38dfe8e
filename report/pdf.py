"""HTML to PDF by WeasyPrint: nothing may be fetched but what the caller hands in."""

import re
from collections.abc import Mapping
from typing import Any

from weasyprint import CSS, HTML
from weasyprint.css.counters import CounterStyle
from weasyprint.html import UA
from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse


class HandedInOnly(URLFetcher):  # type: ignore[misc]
    """Serves the pictures that the caller handed in, by name, and refuses the network and the disk."""

    def __init__(self, pictures: Mapping[str, tuple[bytes, str]]) -> None:
        super().__init__()
        self.pictures = pictures

    def fetch(self, url: str, headers: Mapping[str, str] | None = None) -> URLFetcherResponse:
        """The picture called `url` (``picture:NAME``), or a stop."""
        name = url.removeprefix("picture:")
        if name == url or name not in self.pictures:
            raise FatalURLFetchingError(f"a paper asked for {url!r}, which was not handed in")
        data, mime = self.pictures[name]
        return URLFetcherResponse(url, data, {"Content-Type": mime})


# WeasyPrint's own style sheet, less its rules for every element: papers have no notes, and markers only in lists.
_OF_NOTES = re.compile(r"^::(?:foot)?note-.*$", re.MULTILINE)
_ANY_MARKER, _LIST_MARKER = "\n::marker ", "\nli::marker "
_OWN = CSS(string=_OF_NOTES.sub("", UA).replace(_ANY_MARKER, _LIST_MARKER), counter_style=CounterStyle())


class _Paper(HTML):  # type: ignore[misc]
    """A document whose elements have no styles of what no paper shows, six each: a fifth of a long report's memory."""

    def _ua_stylesheets(self, forms: bool = False) -> list[CSS]:
        return [_OWN]


def html_to_pdf(html: str, pictures: Mapping[str, tuple[bytes, str]]) -> bytes:
    """A tagged PDF (PDF/UA-1) of a whole HTML document that shows only `pictures`."""
    text, drawings = _drawings_apart(html)
    document = _Paper(string=text, url_fetcher=HandedInOnly({**pictures, **drawings}))
    return bytes(document.write_pdf(pdf_variant="pdf/ua-1", finisher=_finish))


LITTLE = 1000  # letters: a sign, which stands as it is

# A drawing of `report.svg`: its head with size and title, its width and height in points, and what it is drawn of.
_DRAWING = re.compile(
    r'(<svg xmlns="http://www.w3.org/2000/svg"[^>]* viewBox="0 0 ([\d.]+) ([\d.]+)"[^>]*>\s*<title>[^<]*</title>)'
    r".*?</svg>",
    re.DOTALL,
)


def _drawings_apart(html: str) -> tuple[str, dict[str, tuple[bytes, str]]]:
    """The document with its drawings as pictures in themselves, and those by name.

    Each keeps its element, and so its place, style and title; but its lines are no elements of the document any more,
    whose style would be worked out one by one: half of the time and of the memory of a shop sheet.
    """
    drawings: dict[str, tuple[bytes, str]] = {}

    def apart(found: re.Match[str]) -> str:
        if len(found[0]) < LITTLE:
            return found[0]
        name = f"drawing-{len(drawings) + 1}"
        drawings[name] = found[0].encode(), "image/svg+xml"
        return f'{found[1]}<image width="{found[2]}" height="{found[3]}" href="picture:{name}"/></svg>'

    return _DRAWING.sub(apart, html), drawings


def _finish(_document: Any, pdf: Any) -> None:
    _head_columns_and_rows(pdf)
    _paint_at_once(pdf)


def _paint_at_once(pdf: Any) -> None:
    """Nothing in a paper can be seen through, so no group need be painted apart (ISO 32000-1, 11.6.6).

    WeasyPrint makes one of every text that is set from its end or middle; pdfium, which is in many viewers, paints it
    on a sheet whose edges it rounds, and so cuts off part of the first letter.
    """
    for thing in pdf.objects:
        getattr(thing, "extra", {}).pop("Group", None)


def _head_columns_and_rows(pdf: Any) -> None:
    """Say of each header cell whether it heads its column or its row (PDF/UA-1, 7.5): WeasyPrint 70 leaves that out."""
    numbered = {thing.reference: thing for thing in pdf.objects[1:]}
    for cell in pdf.objects[1:]:
        if hasattr(cell, "get") and cell.get("S") == "/TH":
            group = numbered[numbered[cell["P"]]["P"]]
            cell["A"]["Scope"] = "/Column" if group["S"] == "/THead" else "/Row"
