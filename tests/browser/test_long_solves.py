"""While the laptop reckons: nothing waits for it, and nothing old is shown as new."""

import re
import time
from fractions import Fraction

import pytest
from playwright.sync_api import expect

from capture.lengths import MM
from capture.record import Along, Tape
from tests.browser.conftest import ON_WALL
from tests.conftest import WALL
from tests.desk import LAPTOP, PATIENCE, Person, eventually, slow_desk
from wainscribe import actions
from wainscribe.folder import JobFolder

REST = "The rest of the house is being reckoned anew."


# While a solve takes long.


@pytest.fixture
def slow(job, monkeypatch):
    """A desk whose solves wait."""
    with slow_desk(job, monkeypatch) as desk:
        yield desk


LONG = re.compile(r"/(measured|next|snap|elevation\.(jpg|json)|(planned|existing)\.svg|plan(\?wall=.*)?)(\?of=.*)?$")


def long_requests(person: Person) -> list[str]:
    """What needs a solve and is under way."""
    under_way = []

    def ended(request):
        if request.url in under_way:
            under_way.remove(request.url)

    person.page.on("request", lambda r: under_way.append(r.url) if "/api/" in r.url and LONG.search(r.url) else None)
    person.page.on("requestfinished", ended)
    person.page.on("requestfailed", ended)
    return under_way


def comes_down_to(person: Person, under_way: list[str], most: int) -> None:
    """What is given up ends a moment after what took its place began."""
    end = time.monotonic() + PATIENCE / 1000
    while len(under_way) > most and time.monotonic() < end:
        person.page.wait_for_timeout(50)
    assert len(under_way) <= most, under_way


def test_a_wall_is_mended_while_its_solve_takes_long(visitors, slow, job):
    folder, person = JobFolder(job), visitors(slow.url + "/job/job")
    under_way = long_requests(person)
    person.follow(WALL)
    eventually(lambda: len(slow.begun), 1)
    expect(person.page.locator(".cards-found")).to_contain_text("3 cards", timeout=PATIENCE)
    for width in (119, 118, 117):
        person.press("Width", exact=False)
        person.length(Fraction(width))
        person.all_kept()
        eventually(lambda: folder.load().wall(WALL).width, width)
        comes_down_to(person, under_way, most=1)  # what was asked of the wall as it was is given up
    person.follow("All walls")
    comes_down_to(person, under_way, most=1)
    assert len(slow.begun) == 1
    slow.go.set()
    expect(person.page.get_by_text("the left end is not marked")).to_be_visible(timeout=PATIENCE)
    assert [job.wall(WALL).width for job in slow.begun] == [120, 117]


def test_a_wish_is_kept_while_the_plan_takes_long_whatever_is_looked_at(visitors, slow, job):
    folder = JobFolder(job)
    for name in ("second", "third", "fourth"):
        actions.set_wall(folder, name, "study", {"width": Fraction(120)})
    slow.go.set()
    person = visitors(slow.url + "/job/job/plan", LAPTOP)
    expect(person.page.locator("#picture img")).to_be_visible(timeout=PATIENCE)
    expect(person.page.locator("#busy")).to_be_empty(timeout=PATIENCE)
    slow.go.clear()
    under_way = long_requests(person)
    field = person.page.get_by_label("Top of all")
    for height in ("40", "41"):
        field.fill(height)
        field.press("Enter")
        person.all_kept()
        eventually(lambda: folder.load().scheme.top, Fraction(height))
        for name in ("second", "third", "fourth", WALL):
            person.press(name, exact=False)
            comes_down_to(person, under_way, most=2)
    slow.go.set()
    expect(person.page.locator("#busy")).to_be_empty(timeout=PATIENCE)


def test_a_late_answer_of_one_wall_is_not_drawn_over_another(people, folder):
    """Its rows would change the wall that was left, under the other's name."""
    actions.set_wall(folder, "short wall", None, {})
    person = people("/job/job")
    held = []
    person.page.route("**/walls/short%20wall/measured", lambda route: held.append(route))
    person.follow("short wall")
    eventually(lambda: len(held) > 0, True)
    person.follow("All walls")
    person.follow(WALL)
    expect(person.page.get_by_role("heading", name=WALL, level=1)).to_be_visible()
    for route in held:
        route.continue_()
    person.page.unroute("**/walls/short%20wall/measured")
    person.page.wait_for_timeout(500)
    person.press("Width", exact=False)
    person.length(Fraction(119))
    eventually(lambda: [wall.width for wall in folder.load().walls], [Fraction(119), None])


def test_a_wall_without_a_photo_is_marked_by_tape(people, folder):
    actions.set_wall(folder, "short wall", None, {"width": "60"})
    person = people("/job/job/wall/short%20wall")
    person.press("Mark")
    person.press("receptacle")
    person.length(Fraction(61, 2))
    person.length(Fraction(16))
    person.press("Mark")
    person.press("window")
    for inches in (10, 24, 30, 40, Fraction(59, 2)):
        person.length(Fraction(inches))
    expect(person.page.locator("dialog[open] h2")).to_contain_text("the underside of its apron, if it has one")
    person.press("not taped")
    expect(person.page.get_by_text("floor to window 1 stool")).to_be_visible()  # what was noted last
    person.all_kept()
    wall = folder.load().wall("short wall")
    assert [(mark.name, mark.width, mark.height) for mark in wall.marks] == [
        ("receptacle 1", None, None),
        ("window 1", 24, 40),
    ]
    assert [(tape.start, tape.end, tape.length, tape.along) for tape in wall.tapes] == [
        ("left end", "receptacle 1", Fraction(61, 2), "across"),
        ("floor", "receptacle 1", 16, "up"),
        ("left end", "window 1 left", 10, "across"),
        ("floor", "window 1 bottom", 30, "up"),
        ("floor", "window 1 stool", Fraction(59, 2), "up"),
    ]
    person.press("Tape")
    person.press("floor")
    person.press("window 1")
    person.press("the underside of its apron")
    person.length(Fraction(27))
    eventually(lambda: folder.load().wall("short wall").tapes[-1].end, "window 1 apron")
    person.press("Tape")
    person.press("floor")
    person.press("receptacle 1")
    expect(person.button("its middle")).to_be_visible()
    expect(person.button("the top of its stool")).to_have_count(0)
    person.press("Close")
    expect(person.page.get_by_text("Nothing is missing on this wall.")).to_be_visible()


def test_a_reading_in_millimetres_stays_as_it_was_when_it_is_held_back(people, folder):
    actions.set_about(folder, {"units": "mm"})
    actions.add_tape(folder, WALL, Tape(start="left end", end="right end", length=1000 * MM, along=Along.ACROSS))
    person = people(ON_WALL)
    person.press("left end to right end", exact=False)
    person.press("Hold it back, to check by")
    person.all_kept()
    eventually(lambda: [(t.length, t.check_only) for t in folder.load().wall(WALL).tapes], [(1000 * MM, True)])


# A large house: the wall at hand first.


def test_what_is_older_than_the_job_is_not_shown_as_new(people, folder):
    """The plan of the whole house is held back: of the other walls the page says that they are reckoned anew."""
    actions.set_wall(folder, "study wall", "study", {"width": Fraction(120)})
    person = people("/job/job/plan", LAPTOP)
    other = person.page.locator("#walls").get_by_role("button").filter(has_text="study wall")
    person.page.locator("#walls").get_by_role("button").filter(has_text=WALL).click(timeout=PATIENCE)
    expect(person.page.get_by_text(REST)).to_have_count(0)
    held = []
    person.page.route(re.compile("/api/jobs/job/plan$"), lambda route: held.append(route))
    field = person.page.get_by_label("Top of all")
    field.fill("40")
    with person.page.expect_request(re.compile("/api/jobs/job/plan$")):
        field.press("Enter")
    expect(other).to_contain_text("…", timeout=PATIENCE)
    for part in ("#conflicts", "#next"):
        expect(person.page.locator(part)).to_contain_text(REST)
    drawing = person.page.locator("#picture img")
    expect(drawing).to_have_attribute("alt", f"{WALL} with the planned frames, to scale")
    for route in held:
        route.continue_()
    expect(other).not_to_contain_text("…", timeout=PATIENCE)
    expect(person.page.get_by_text(REST)).to_have_count(0)
