"""HTML to PDF by WeasyPrint: nothing may be fetched but what the caller hands in."""

from collections.abc import Mapping

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
    return bytes(HTML(string=html, url_fetcher=HandedInOnly(pictures)).write_pdf(pdf_variant="pdf/ua-1"))
