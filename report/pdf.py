"""HTML to PDF by WeasyPrint: nothing may be fetched but what the caller hands in."""

from collections.abc import Mapping
from typing import Any

from weasyprint import HTML
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


def html_to_pdf(html: str, pictures: Mapping[str, tuple[bytes, str]]) -> bytes:
    """A tagged PDF (PDF/UA-1) of a whole HTML document that shows only `pictures`."""
    document = HTML(string=html, url_fetcher=HandedInOnly(pictures))
    return bytes(document.write_pdf(pdf_variant="pdf/ua-1", finisher=_head_columns_and_rows))


def _head_columns_and_rows(_document: Any, pdf: Any) -> None:
    """Say of each header cell whether it heads its column or its row (PDF/UA-1, 7.5): WeasyPrint 70 leaves that out."""
    numbered = {thing.reference: thing for thing in pdf.objects[1:]}
    for cell in pdf.objects[1:]:
        if hasattr(cell, "get") and cell.get("S") == "/TH":
            group = numbered[numbered[cell["P"]]["P"]]
            cell["A"]["Scope"] = "/Column" if group["S"] == "/THead" else "/Row"
