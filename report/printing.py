"""From a template to a PDF, and the templates' filters."""

from collections.abc import Mapping
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from report.typeset import css_text, sentence, typeset

TEMPLATES = Environment(
    loader=PackageLoader("report"), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
)
TEMPLATES.filters |= {"typeset": typeset, "css_text": css_text, "sentence": sentence}


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
    from report.pdf import html_to_pdf  # WeasyPrint takes a second to import, so only papers pay for it

    return html_to_pdf(TEMPLATES.get_template(template).render(**context), pictures or {})
