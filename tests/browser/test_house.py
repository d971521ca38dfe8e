"""A house of many rooms on a phone: nobody scrolls past all of it to get at one wall."""

from fractions import Fraction

import pytest
from playwright.sync_api import expect

from capture.record import Along, Kind, Mark, Tape
from tests.browser.conftest import TARGETS, faults_of
from tests.desk import eventually, open_desk
from wainscribe import actions

ROOMS = ("hall", "study", "dining room", "landing", "den")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Five rooms of one wall each by tape alone, each with two receptacles in the way."""
    folder = actions.new_job(tmp_path_factory.mktemp("house") / "house", "A house")
    for room in ROOMS:
        actions.set_wall(folder, f"{room} wall", room, {"width": Fraction(100), "ceiling": Fraction(96)})
        for n, across in enumerate((28, 74), start=1):
            name = f"receptacle {n}"
            reached = (
                Tape(start="left end", end=name, length=Fraction(across), along=Along.ACROSS),
                Tape(start="floor", end=name, length=Fraction(14), along=Along.UP),
            )
            actions.add_mark(folder, f"{room} wall", Mark(name=name, kind=Kind.RECEPTACLE), reached)
    return folder


@pytest.fixture(scope="module")
def house(folder):
    """The house on a desk."""
    with open_desk(folder.path.parent) as desk:
        yield f"{desk.url}/job/house"


BELOW_THE_TOP = """heading => heading.getBoundingClientRect().top >=
  document.querySelector('header.top').getBoundingClientRect().bottom"""


def in_view_and_focused(page, heading) -> None:
    expect(heading).to_be_focused()
    expect(heading).to_be_in_viewport()
    # Asked again, for it may be drawn anew in between: what is missing has come.
    eventually(lambda: heading.evaluate(BELOW_THE_TOP), True)


def test_a_room_is_one_tap_away(visitors, house):
    person = visitors(house)
    person.press("den")
    in_view_and_focused(person.page, person.page.get_by_role("heading", name="den", exact=True))
    assert person.page.evaluate(TARGETS) == []
    assert faults_of(person.page) == []


def test_the_room_gone_to_keeps_the_focus_when_what_is_missing_comes(visitors, house):
    """What is missing is drawn into the list once all walls are measured: here only after the tap."""
    person = visitors("about:blank")
    tapped = []

    def after_the_tap(route):
        while not tapped:
            person.page.wait_for_timeout(20)
        route.fulfill(json={"missing": ["no photo of it yet"]})

    person.page.route("**/measured", after_the_tap)
    person.page.goto(house)
    person.press("study")
    heading = person.page.get_by_role("heading", name="study", exact=True)
    in_view_and_focused(person.page, heading)
    told = person.page.get_by_text("no photo", exact=False)
    expect(told).to_have_count(0)
    tapped.append(True)
    expect(told).to_have_count(len(ROOMS))
    expect(heading).to_be_focused()


def test_only_what_was_judged_is_called_clear(visitors, house):
    """A wall that is not planned, in a house with much in the way elsewhere."""
    person = visitors("about:blank")

    def unplanned(route):
        plan = route.fetch().json()
        for wall in plan["walls"]:
            if wall["name"] == "den wall":
                wall["runs"] = []
        plan["conflicts"] = [one for one in plan["conflicts"] if one["wall"] != "den wall"]
        plan["conflicts"] += [{**one, "thing": f"{one['thing']} again"} for one in plan["conflicts"]]
        route.fulfill(json=plan)

    person.page.route("**/plan", lambda route: unplanned(route) if "/api/" in route.request.url else route.continue_())
    person.page.goto(f"{house}/plan")
    person.page.locator("#walls").get_by_role("button", name="den wall").tap()
    expect(person.page.locator("#conflicts")).to_contain_text(
        "den wall is not planned yet, so nothing is judged there."
    )
    expect(person.page.get_by_text("Nothing is in the way")).to_have_count(0)


def test_what_is_in_the_way_on_other_walls_is_a_line_each_and_one_tap_away(visitors, house):
    person = visitors(f"{house}/plan")
    page = person.page
    told = page.locator("#conflicts .conflict")
    expect(told).to_have_count(2)
    lines = page.locator("#conflicts .row")
    expect(lines).to_have_count(8)
    expect(page.get_by_text("On other walls: 8")).to_be_visible()
    lines.filter(has_text="landing wall").first.tap()
    in_view_and_focused(page, page.get_by_role("heading", name="In the way"))
    expect(page.locator("#walls").get_by_role("button", name="landing wall")).to_have_attribute("aria-pressed", "true")
    expect(lines.filter(has_text="landing wall")).to_have_count(0)
    expect(told).to_have_count(2)
    assert page.evaluate(TARGETS) == []
    assert faults_of(page) == []


@pytest.fixture
def papers(visitors, house):
    """The papers page of a house, as if the drawings of some walls had been made."""

    def shown(*walls: str):
        person = visitors("about:blank")
        made = [
            f"{wall}-{shows}.{form}" for wall in walls for shows in ("existing", "planned") for form in ("dxf", "svg")
        ]
        files = ["electricians-brief.pdf", "site-report.pdf", "sketch.svg", *made]
        person.page.route("**/api/jobs/house/papers", lambda route: route.fulfill(json={"files": files}))
        person.page.goto(f"{house}/papers")
        expect(person.page.get_by_role("link", name="Site report")).to_be_visible()
        return person.page

    return shown


@pytest.mark.parametrize(("walls", "folded"), [(3, False), (13, True)])
def test_four_drawings_a_wall_are_one_card_and_those_of_a_house_are_folded(papers, walls, folded):
    page = papers(*(f"wall-{n}" for n in range(walls)))
    drawing = page.get_by_role("link", name="Wall 2: As planned, DXF")
    if folded:
        expect(drawing).to_be_hidden()
        page.get_by_text(f"Drawings of {walls} walls").tap()
    expect(drawing).to_be_visible()
    assert drawing.get_attribute("href").endswith("/papers/wall-2-planned.dxf")
    assert page.locator(".card.drawings").count() == walls
    assert page.locator(".card.drawings a").count() == 4 * walls
    expect(page.get_by_role("link", name="sketch.svg")).to_be_visible()
    assert page.evaluate(TARGETS) == []
    assert faults_of(page) == []


def test_what_was_unfolded_stays_so_when_the_papers_are_listed_anew(papers, folder):
    page = papers(*(f"wall-{n}" for n in range(13)))
    page.get_by_text("Drawings of 13 walls").tap()
    drawing = page.get_by_role("link", name="Wall 2: As planned, DXF")
    expect(drawing).to_be_visible()
    drawing.evaluate("link => link.dataset.before = 'yes'")
    actions.set_about(folder, {"customer": "Miller"})  # by another program
    expect(page.locator("[data-before]")).to_have_count(0)
    expect(drawing).to_be_visible()


def test_a_wall_goes_by_its_own_name_on_its_card(papers):
    page = papers("constructor", "electricians-brief")
    expect(page.get_by_role("link", name="Constructor: As planned, SVG")).to_be_visible()
    expect(page.get_by_role("link", name="Electricians brief: As it stands, SVG")).to_be_visible()
    expect(page.get_by_role("link", name="Electrician’s brief", exact=False).first).to_be_visible()
