"""What setting a paper costs over WeasyPrint's own time on the finished HTML."""

import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from statistics import median
from unittest.mock import patch

from weasyprint import HTML

from report import pdf
from wainscribe.demo import demo_source
from wainscribe.folder import JobFolder
from wainscribe.papers import PAPERS, ready

TITLE = "Setting a paper with its pictures, over WeasyPrint on the finished HTML, processor time (wanted: 1.2)"


def setting_ratio(times: int = 7) -> list[tuple[str, ...]]:
    """Time of each paper of the demo from facts, plans and printed pictures, over that of its HTML alone."""
    with tempfile.TemporaryDirectory() as place:
        folder = JobFolder(Path(place) / "demo")
        folder.photos.mkdir(parents=True)
        folder.file.write_bytes((demo_source() / "job.json").read_bytes())
        for photo in (demo_source() / "photos").iterdir():
            (folder.photos / photo.name).write_bytes(photo.read_bytes())
        job = ready(folder, lambda _: None)
    table: list[tuple[str, ...]] = [("the demo's three walls", "over WeasyPrint", "WeasyPrint, s", "HTML, kB")]
    for name, make in PAPERS.items():
        over, alone, html = of_paper(partial(make, job), times)
        table.append((name, f"{over:.2f}", f"{alone:.2f}", f"{html / 1000:.0f}"))
    return table


def of_paper(make: Callable[[], object], times: int) -> tuple[float, float, int]:
    """A paper's time over its HTML's, the median of turns; the HTML's time, s; and its length."""
    with patch.object(pdf, "html_to_pdf", wraps=pdf.html_to_pdf) as seen:
        make()
    html, pictures = seen.call_args.args
    spent: tuple[list[float], list[float]] = ([], [])
    for _ in range(times):
        for work, times_of in zip((make, partial(bare, html, pictures)), spent, strict=True):
            start = time.process_time()
            work()
            times_of.append(time.process_time() - start)
    return median(ours / theirs for ours, theirs in zip(*spent, strict=True)), median(spent[1]), len(html)


def bare(html: str, pictures: dict[str, tuple[bytes, str]]) -> bytes:
    return HTML(string=html, url_fetcher=pdf.HandedInOnly(pictures)).write_pdf(pdf_variant="pdf/ua-1")


if __name__ == "__main__":
    for row in setting_ratio():
        print(*row, sep=" | ")
