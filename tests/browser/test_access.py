"""The pages are open to everyone: axe-core, thumbs, large text, screen readers, no connection."""

import re

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import ON_WALL, PLACED, TARGETS, faults_of, mark_receptacle
from tests.desk import LAPTOP, PATIENCE, PHONE, Person

PAGES = {
    "jobs": "/",
    "walls": "/job/job",
    "one wall": ON_WALL,
    "plan": "/job/job/plan",
    "papers": "/job/job/papers",
    "phone": "/phone",
    "key": "/key",
    "refused": "/nothing",
}


def settled(person: Person) -> None:
    """Wait until nothing is asked for any more; the long poll of the job never ends."""
    expect(person.page.get_by_text("One moment…")).to_have_count(0, timeout=PATIENCE)
    person.page.wait_for_timeout(1500)


SIZES = pytest.mark.parametrize("size", [pytest.param(PHONE, id="phone"), pytest.param(LAPTOP, id="laptop")])
SCHEMES = pytest.mark.parametrize("scheme", ["light", "dark"])


@SCHEMES
@SIZES
@pytest.mark.parametrize("name", PAGES)
def test_no_page_has_a_serious_fault_of_access(lookers, name, size, scheme):
    person = lookers(PAGES[name], size, color_scheme=scheme, reduced_motion="reduce")
    settled(person)
    assert faults_of(person.page) == []
    assert person.page.evaluate("document.documentElement.scrollWidth") <= size["width"]


@SCHEMES
@SIZES
def test_the_door_has_no_serious_fault_of_access(lookers, calm, size, scheme):
    """A key that does not fit is told; one that does opens a page that goes on by itself, held here to be looked at."""
    person = lookers("/phone", size, color_scheme=scheme)
    key = "".join(re.search(r"\b([A-Z2-9]{5})-([A-Z2-9]{5})\b", person.page.content()).groups())
    person.page.goto(f"{calm.url}/key")
    person.page.get_by_label("Key").fill("AAAAA-AAAAA")
    person.press("Open")
    expect(person.page.get_by_role("alert")).to_contain_text("does not open this desk")
    assert faults_of(person.page) == []
    assert person.page.evaluate(TARGETS) == []
    person.page.route(f"{calm.url}/", lambda route: route.fulfill(status=204))
    person.page.goto(f"{calm.url}/key/{key}")
    expect(person.page.get_by_role("heading", name="The key fits")).to_be_visible()
    assert faults_of(person.page) == []
    assert person.page.evaluate(TARGETS) == []
    assert person.page.evaluate("document.documentElement.scrollWidth") <= size["width"]


@SCHEMES
@SIZES
def test_the_papers_that_were_made_have_no_serious_fault_of_access(people, size, scheme):
    person = people("/job/job/papers", size, color_scheme=scheme, reduced_motion="reduce")
    person.press("Make the papers")
    person.page.locator("#said li").first.wait_for()
    assert faults_of(person.page) == []  # while they are made
    expect(person.page.get_by_role("link", name="Site report")).to_be_visible(timeout=4 * PATIENCE)
    expect(person.page.locator("#busy")).to_be_hidden()
    assert faults_of(person.page) == []
    assert person.page.evaluate(TARGETS) == []
    assert person.page.evaluate("document.documentElement.scrollWidth") <= size["width"]


@SCHEMES
def test_no_sheet_has_a_serious_fault_of_access(people, scheme):
    person = people(ON_WALL, color_scheme=scheme, reduced_motion="reduce")
    person.cards_found()
    person.open_photo("wall.jpg")
    mark_receptacle(person, *PLACED["receptacle 1"])
    assert faults_of(person.page) == []
    person.press("Something else")
    assert faults_of(person.page) == []
    person.press("Close")
    person.leave_marking()
    person.press("Tape")
    assert faults_of(person.page) == []
    person.press("left end")
    person.press("card 5")
    assert faults_of(person.page) == []
    person.press("Close")
    person.press("all kept")
    assert faults_of(person.page) == []


@pytest.mark.parametrize("name", PAGES)
def test_every_target_is_as_large_as_a_thumb(lookers, name):
    """44 CSS px: WCAG 2.2, success criterion 2.5.5."""
    person = lookers(PAGES[name])
    settled(person)
    assert person.page.evaluate(TARGETS) == []


@pytest.mark.parametrize("name", PAGES)
def test_text_can_be_twice_as_large(lookers, name):
    """WCAG 2.2, success criterion 1.4.4: nothing is cut off or needs a second way to scroll."""
    person = lookers(PAGES[name])
    settled(person)
    person.page.evaluate("document.documentElement.style.fontSize = '225%'")  # it is 112.5 % by itself
    person.page.wait_for_timeout(200)
    assert person.page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


def test_marks_have_names_for_a_screen_reader(people):
    person = people(ON_WALL)
    person.open_photo("wall.jpg")
    mark_receptacle(person, *PLACED["receptacle 1"])
    expect(person.page.locator(".marks").get_by_role("button", name="receptacle 1")).to_have_count(1)


def test_a_paper_is_not_kept_by_the_worker_either(people, folder):
    papers = folder.path / "papers"
    papers.mkdir()
    (papers / "site-report.pdf").write_bytes(b"%PDF-1.7")
    person = people("/job/job/papers")
    person.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    person.page.reload()  # the first load came before the worker
    person.page.get_by_role("link", name="Site report").wait_for()
    person.page.evaluate("fetch('/job/job/papers/site-report.pdf').then(answer => answer.blob())")
    kept = person.page.evaluate(
        "caches.keys().then(names => Promise.all(names.map(name => caches.open(name).then(one => one.keys()))))"
        ".then(all => all.flat().map(request => new URL(request.url).pathname))"
    )
    assert "/job/job/papers" in kept
    assert "/job/job/papers/site-report.pdf" not in kept


def test_a_page_opens_without_a_connection_once_it_was_seen(people, desk):
    """The worker is allowed on this machine; on a plain http address browsers have none, and an open page goes on."""
    person = people("/job/job")
    person.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    person.page.reload()  # the first load came before the worker
    person.button("Next wall").wait_for()
    person.page.context.set_offline(True)
    person.page.goto(desk.url + ON_WALL)
    expect(person.page.locator("h1")).to_have_text("long wall")
    expect(person.page.locator("#status")).to_have_text("no connection", timeout=PATIENCE)


def test_the_manifest_has_what_a_home_screen_wants(lookers):
    page = lookers("/").page
    manifest = page.evaluate("fetch('/static/manifest.webmanifest').then(answer => answer.json())")
    assert {icon["sizes"] for icon in manifest["icons"]} >= {"192x192", "512x512"}
    sizes = page.evaluate(
        "urls => Promise.all(urls.map(async u => { const i = new Image(); i.src = u; await i.decode(); "
        "return `${i.naturalWidth}x${i.naturalHeight}` }))",
        [icon["src"] for icon in manifest["icons"] if icon["sizes"] != "any"],
    )
    assert sizes == [icon["sizes"] for icon in manifest["icons"] if icon["sizes"] != "any"]
