"""Papers made by several processes say and show what papers made by one do, and say it in the same order."""

import re

import pytest

from capture.errors import PlainError
from capture.record import At, Kind, Mark, Sight
from tests.conftest import WALL
from tests.papers import page_words, read
from wainscribe import actions
from wainscribe.papers import make_papers

# Of a DXF: when it was made, and a number never given twice.
MADE_AT = re.compile(r"\n *9\n\$(TD\w+|\w*GUID)\n *\d+\n[^\n]*|\d{4}-\d\d-\d\dT[\d:.+]+")


@pytest.fixture
def house(folder):
    """Two walls, one of them without a photo, and a box that is in the way."""
    corners = (
        Sight(photo="wall.jpg", u=840, v=600, at=At.TOP_LEFT),
        Sight(photo="wall.jpg", u=900, v=700, at=At.BOTTOM_RIGHT),
    )
    actions.add_mark(folder, WALL, Mark(name="box", kind=Kind.RECEPTACLE, sights=corners))
    actions.set_wall(folder, "short wall", None, {"width": "60"})
    return folder


def test_one_process_and_several_make_the_same_papers(house, tmp_path):
    said: dict[int, list[str]] = {1: [], 2: []}
    one, two = (make_papers(house, tmp_path / str(n), said[n].append, n) for n in (1, 2))
    assert [file.name for file in one] == [file.name for file in two]
    assert said[1] == said[2]
    for ours, theirs in zip(one, two, strict=True):
        if ours.suffix == ".pdf":
            assert _shown(read(ours.read_bytes())) == _shown(read(theirs.read_bytes()))
        else:
            assert MADE_AT.sub("", ours.read_text("utf-8")) == MADE_AT.sub("", theirs.read_text("utf-8"))


def _shown(reader) -> list[tuple[str, list[bytes]]]:
    """The words and the pictures of every page."""
    return [(page_words(page), [image.data for image in page.images]) for page in reader.pages]


def test_each_paper_is_told_of_as_it_is_set_in_the_order_of_reading(house, tmp_path):
    said: list[str] = []
    make_papers(house, tmp_path / "out", said.append, 2)
    assert [line for line in said if not line.startswith(("looking", "warning"))] == [
        "measuring", "packing pieces into boards", f"drawing {WALL}", "drawing short wall", "setting site-report.pdf",
        "setting electricians-brief.pdf", "setting customer-sheet.pdf", "setting shop-sheet.pdf",
    ]  # fmt: skip


@pytest.mark.parametrize("processes", [1, 2])
def test_a_photo_that_is_gone_is_one_sentence_and_no_paper(house, tmp_path, processes, monkeypatch):
    from wainscribe import papers

    plan_job = papers.plan_job

    def gone_after(folder, job, tell):
        planned = plan_job(folder, job, tell)
        next(folder.photos.iterdir()).unlink()
        return planned

    monkeypatch.setattr(papers, "plan_job", gone_after)
    with pytest.raises(PlainError, match=r"wall\.jpg"):
        make_papers(house, tmp_path / "out", lambda _: None, processes)
    assert list((tmp_path / "out").iterdir()) == []
