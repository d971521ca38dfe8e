"""What setting a paper costs over WeasyPrint's own time on the finished HTML."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from unittest.mock import patch

from weasyprint import HTML

from capture.record import Photo, Wall
from report import pdf
from report.brief import electricians_brief
from report.papers import PhotoPage, WallPages
from report.site_report import site_report
from tests.bench_elevation import ratio
from tests.test_report_papers import FACTS
from tests.test_report_wall import made_up_camera, made_up_picture, made_up_plan, made_up_survey

TITLE = "Setting a paper with its pictures, over WeasyPrint on the finished HTML (wanted: 1.2)"
SIZE = (4032, 3024)


def setting_ratio(walls: int = 2) -> list[tuple[str, ...]]:
    """Time of a paper from facts, plans and 12 MP photos, over that of its HTML alone."""
    pages = [one_wall(f"wall {n + 1}") for n in range(walls)]
    table: list[tuple[str, ...]] = [(f"{walls} walls, two photos each", "over WeasyPrint", "pages' HTML, kB")]
    makers: dict[str, Callable[[], bytes]] = {
        "site report": lambda: site_report(FACTS, pages),
        "electrician's brief": lambda: electricians_brief(FACTS, pages),
    }
    for name, make in makers.items():
        with patch.object(pdf, "html_to_pdf", wraps=pdf.html_to_pdf) as seen:
            make()
        html, pictures = seen.call_args.args
        over = ratio(make, partial(bare, html, pictures), times=2)
        table.append((name, f"{over:.2f}", f"{len(html) / 1000:.0f}"))
    return table


def one_wall(name: str) -> WallPages:
    plan = made_up_plan(replace(made_up_survey(), name=name))
    picture, camera = made_up_picture(SIZE), made_up_camera(SIZE)
    photos = tuple(PhotoPage(Photo(name=f"{name} {k}", file=f"{k}.jpg"), picture, camera) for k in (1, 2))
    return WallPages(Wall(name=name), plan, photos)


def bare(html: str, pictures: dict[str, tuple[bytes, str]]) -> bytes:
    return HTML(string=html, url_fetcher=pdf.HandedInOnly(pictures)).write_pdf(pdf_variant="pdf/ua-1")


if __name__ == "__main__":
    for row in setting_ratio():
        print(*row, sep=" | ")
