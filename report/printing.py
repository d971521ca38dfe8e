"""From a template to a PDF: nothing may be fetched but what the caller hands in."""

from collections.abc import Mapping
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from weasyprint import HTML
from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

from report.typeset import css_text, sentence, typeset

TEMPLATES = Environment(
    loader=PackageLoader("report"), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
)
TEMPLATES.filters |= {"typeset": typeset, "css_text": css_text, "sentence": sentence}


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


def to_pdf(template: str, context: Mapping[str, Any], pictures: Mapping[str, tuple[bytes, str]] | None = None) -> bytes:
    """A tagged PDF (PDF/UA-1) of a template in report/templates.

    Parameters
    ----------
    template
        File name of the template.
    context
        What the template may use.
    pictures
        Bytes and MIME type by name; a template shows one with ``src="picture:NAME"``.
    """
    html = TEMPLATES.get_template(template).render(**context)
    document = HTML(string=html, url_fetcher=HandedInOnly(pictures or {}))
    return bytes(document.write_pdf(pdf_variant="pdf/ua-1"))
