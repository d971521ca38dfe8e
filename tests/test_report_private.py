"""What papers may fetch, and what they may tell: our own pictures alone, and nothing of the machine or the place."""

import getpass
import io
import re
import shutil
from dataclasses import replace
from pathlib import Path
from unittest.mock import patch

import pytest
from PIL import Image
from pypdf.generic import DictionaryObject, StreamObject
from weasyprint.urls import FatalURLFetchingError

from report.pdf import HandedInOnly, html_to_pdf
from tests.conftest import WALL
from tests.papers import read
from tests.test_report_papers import FACTS
from tests.test_report_tagged import MAKERS
from wainscribe import actions
from wainscribe.folder import JobFolder
from wainscribe.papers import make_papers

# What a paper fetches.

ELSEWHERE = (
    "file:///etc/passwd", "http://127.0.0.1:9/x.png", "https://example.org/x.png", "ftp://example.org/x.png",
    "data:image/svg+xml,<svg xmlns='http://www.w3.org/2000/svg'/>", "picture:other", "picture:../p1", "p1",
    "/etc/passwd",
)  # fmt: skip


@pytest.mark.parametrize("url", ELSEWHERE)
def test_only_what_was_handed_in_is_served(url):
    with pytest.raises(FatalURLFetchingError, match="was not handed in"):
        HandedInOnly({"p1": (b"x", "image/png")}).fetch(url)


WAYS = {
    "picture": '<img src="{}" alt="x">',
    "style": '<p style="background: url({})">x</p>',
    "border": '<p style="border-image: url({}) 1">x</p>',
    "list": '<ul style="list-style-image: url({})"><li>x</li></ul>',
    "content": "<style>p::before {{ content: url({}) }}</style><p>x</p>",
    "font": "<style>@font-face {{ font-family: F; src: url({}) }} p {{ font-family: F }}</style><p>x</p>",
    "import": "<style>@import url({});</style><p>x</p>",
    "sheet": '<link rel="stylesheet" href="{}"><p>x</p>',
    "object": '<object data="{}">x</object>',
    "embed": '<embed src="{}">',
    "attachment": '<link rel="attachment" href="{}"><p>x</p>',
    "attached": '<a rel="attachment" href="{}">x</a>',
}


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("url", ["file:///etc/hostname", "http://127.0.0.1:9/x.png"])
def test_a_page_that_asks_for_more_is_not_made(way, url):
    page = f"<html lang='en'><title>x</title><body>{WAYS[way].format(url)}</body></html>"
    with pytest.raises(FatalURLFetchingError, match="was not handed in"):
        html_to_pdf(page, {})


def test_a_drawing_that_asks_for_more_gets_nothing():
    """WeasyPrint goes on where a drawing fails, so here it must be the fetcher that stands in the way."""
    url = "file:///etc/hostname"
    page = f"<html lang='en'><title>x</title><body><svg width='9' height='9'><image href='{url}' width='9' height='9'/>"
    refused: list[str] = []
    fetch = HandedInOnly.fetch

    def seen(self, url, headers=None):
        try:
            return fetch(self, url, headers)
        except FatalURLFetchingError:
            refused.append(url)
            raise

    with patch.object(HandedInOnly, "fetch", seen):
        made = html_to_pdf(page, {})
    assert refused == [url]
    assert not list(read(made).pages[0].images)


ASKING = (
    '<img src="file:///etc/passwd"><link rel="attachment" href="file:///etc/passwd"> '
    "'\"></style><style>@import url(http://127.0.0.1:9/a);body{background:url(file:///etc/passwd)} "
    "\\22 ;}p{background:url(data:image/png,x)} url(file:///etc/passwd) {{ 7*7 }}{% include 'paper.css' %}"
)


@pytest.mark.parametrize("paper", MAKERS)
def test_no_text_of_the_job_makes_a_paper_ask(paper):
    asked: list[str] = []
    fetch = HandedInOnly.fetch

    def seen(self, url, headers=None):
        asked.append(url)
        return fetch(self, url, headers)

    facts = replace(FACTS, job=ASKING, address=ASKING, customer=ASKING, installer=ASKING, notes=(ASKING,))
    with patch.object(HandedInOnly, "fetch", seen):
        made = MAKERS[paper](facts)
    assert all(re.fullmatch(r"picture:(p|drawing-)\d+", url) for url in asked), asked
    told = " ".join(" ".join(page.extract_text().split()) for page in read(made).pages)
    assert "file:///etc/passwd" in told  # as a word
    assert "7*7" in told or paper == "shop sheet"  # whose heading is cut
    assert b"root:" not in made


# What a paper tells.

HOME, MAKER, LATITUDE = "jane-doe-4711", "Zyxwvu maker", (12.0, 34.0, 56.0)
COMMENT = f"{HOME} at 12.582222 N"  # WeasyPrint drops EXIF by itself, and lets a JPEG's comment through


def with_position(picture: Image.Image, **more) -> bytes:
    exif = picture.getexif()
    exif[0x010F] = MAKER
    exif[0x013B] = HOME  # Artist
    exif.get_ifd(0x8825).update({1: "N", 2: LATITUDE})  # Exif 2.32: GPSLatitudeRef, GPSLatitude
    out = io.BytesIO()
    picture.save(out, exif=exif, **more)
    return out.getvalue()


@pytest.fixture(scope="module")
def made(_photographed, tmp_path_factory) -> list[Path]:
    """All papers of a job in a telling folder, its photos and logo with position, maker and artist."""
    folder = JobFolder(Path(shutil.copytree(_photographed, tmp_path_factory.mktemp(HOME) / "job")))
    for file in folder.photos.iterdir():
        data = with_position(Image.open(file), format="JPEG", quality=95, comment=COMMENT)
        assert MAKER.encode() in data
        assert COMMENT.encode() in data
        file.write_bytes(data)
        folder.store_photo("record.jpg", data)
    logo = with_position(Image.new("RGB", (300, 120), "green"), format="PNG")
    assert MAKER.encode() in logo
    actions.set_about(folder, {"logo": actions.keep_logo(folder, "logo.png", logo), "units": "mm"})
    actions.take_photo(folder, WALL, "dent.jpg", folder.read_photo("record.jpg"), "a dent", record_only=True)
    return make_papers(folder, folder.path / "papers", lambda _: None)


def laid_open(file: Path) -> bytes:
    """Everything that a file holds: of a PDF every object as text, and every stream unpacked and as it lies there."""
    data = file.read_bytes()
    if file.suffix != ".pdf":
        return data
    reader = read(data)
    parts = [data, repr(reader.metadata).encode()]
    for number in range(1, reader.trailer["/Size"]):
        held = reader.get_object(number)
        if isinstance(held, StreamObject):
            parts += [held.get_data(), held._data]
        if isinstance(held, DictionaryObject):
            parts.append(repr(dict(held)).encode())
    return b"\n".join(parts)


def test_papers_tell_nothing_of_the_machine_the_person_and_the_place(made):
    assert {file.suffix for file in made} == {".pdf", ".svg", ".dxf", ".csv", ".json"}
    machine = (str(made[0].parent.parent), f"{Path.home()}/", f"{getpass.getuser()}@", "/tmp/", "photos/")
    secret = (HOME, MAKER, *machine, "GPS", "Exif\0\0", "eXIf")
    for file in made:
        held = laid_open(file)
        for words in secret:
            for coded in (words.encode(), words.encode("utf-16-be"), words.encode("utf-16-le")):
                assert coded not in held, f"{words!r} in {file.name}"


def test_no_picture_in_a_paper_has_tags(made):
    seen = 0
    for file in made:
        if file.suffix == ".pdf":
            for page in read(file.read_bytes()).pages:
                for image in page.images:
                    seen += 1
                    assert not image.image.getexif()
                    assert not {"exif", "xmp", "icc_profile", "comment", "photoshop"} & set(image.image.info)
    assert seen > 4
