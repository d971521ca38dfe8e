"""Browsers, desks and people for the tests of the pages: a small job, and its only wall photographed."""

import shutil
from fractions import Fraction

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import sync_playwright

from tests.conftest import WALL, pixels_of
from tests.desk import PHONE, Person, context, launch, open_desk
from wainscribe.folder import JobFolder

PLACED = {"receptacle 1": (50.0, 48.0), "switch 1": (75.0, 45.0)}  # in: where the tests say that something is
ON_WALL = "/job/job/wall/long%20wall"
# What axe-core is asked about, and the names of what is smaller than WCAG 2.1's target of 44 CSS px (2.5.5).
LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
TARGETS = """
() => [...document.querySelectorAll('main button, main a, main input, header button, header a, nav a, summary')]
  .filter(e => e.getClientRects().length && !e.classList.contains('spoken'))
  .map(e => [e.textContent.trim() || e.ariaLabel, e.getBoundingClientRect()])
  .filter(([, box]) => box.width < 44 || box.height < 44)
  .map(([name, box]) => `${name} ${box.width} × ${box.height}`)
"""


def tap_at(person: Person, x: float, y: float) -> None:
    """Tap a place of the wall, inches, in the photograph of it."""
    person.tap_pixel(*pixels_of([(x, y)])[0])


def mark_receptacle(person: Person, x: float, y: float) -> None:
    """Mark a plate by two corners; the bare wall of the photograph has no edges to find."""
    person.begin("receptacle")
    tap_at(person, x - 1.4, y + 2.25)
    tap_at(person, x + 1.4, y - 2.25)
    person.settle_mark()


def names_on_disk(folder: JobFolder) -> list[str]:
    return [mark.name for mark in folder.load().wall(WALL).marks]


def tapes_on_disk(folder: JobFolder) -> list[Fraction]:
    return [tape.length for tape in folder.load().wall(WALL).tapes]


def faults_of(page) -> list[str]:
    """Serious and critical faults that axe-core finds on a page."""
    found = Axe().run(page, options={"runOnly": LEVELS, "resultTypes": ["violations"]})
    grave = [v for v in found.response["violations"] if v["impact"] in ("serious", "critical")]
    return [f"{v['id']}: {v['nodes'][0]['target']} {v['nodes'][0]['failureSummary']}" for v in grave]


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as playwright:
        browser = launch(playwright)
        yield browser
        browser.close()


@pytest.fixture
def desk(job, tmp_path):
    """A desk over one job that is photographed already."""
    folder = tmp_path / "jobs"
    folder.mkdir()
    shutil.move(job, folder / "job")
    with open_desk(folder) as desk:
        yield desk


@pytest.fixture(scope="module")
def calm(_photographed, tmp_path_factory):
    """A desk for those who only look; one for all of them."""
    folder = tmp_path_factory.mktemp("calm")
    shutil.copytree(_photographed, folder / "job")
    with open_desk(folder) as desk:
        yield desk


@pytest.fixture
def folder(desk) -> JobFolder:
    return JobFolder(desk.folder / "job")


@pytest.fixture
def visitors(browser):
    """Opens an address as somebody new; nobody's page may ever have a fault."""
    opened = []

    def come(address: str, size=PHONE, **more) -> Person:
        page = context(browser, size, **more).new_page()
        person = Person(page, touch=size == PHONE)
        opened.append(person)
        page.goto(address)
        return person

    yield come
    for person in opened:
        person.page.context.close()
    assert [fault for person in opened for fault in person.faults] == []


@pytest.fixture
def people(visitors, desk):
    """The same on a desk of one's own."""
    return lambda path, size=PHONE, **more: visitors(desk.url + path, size, **more)


@pytest.fixture
def lookers(visitors, calm):
    """The same on the desk of those who only look."""
    return lambda path, size=PHONE, **more: visitors(calm.url + path, size, **more)
