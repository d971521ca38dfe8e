"""The pages in Debian's Chromium, on a small job: nothing is lost or overwritten, and they are open to everyone."""

import re
import shutil
import time
from fractions import Fraction

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect, sync_playwright
from pypdf import PdfReader

from capture.lengths import MM
from capture.record import Along, Conditions, Mark, Sight, Suspect, Tape
from report.conditions import OF_THE_HOUSE
from tests.conftest import WALL, pixels_of
from tests.desk import LAPTOP, PATIENCE, PHONE, Person, context, eventually, launch, open_desk, slow_desk
from wainscribe import actions
from wainscribe.desk.checklist import QUESTIONS
from wainscribe.job import JobFolder
from wainscribe.papers import make_papers

REST = "The rest of the house is being reckoned anew."
PLACED = {"receptacle 1": (50.0, 48.0), "switch 1": (75.0, 45.0)}  # in: where the tests say that something is


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


ON_WALL = "/job/job/wall/long%20wall"


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


# A new job, by touch.


def test_a_job_and_its_first_walls_are_made_by_taps(people, desk):
    person = people("/")
    person.page.get_by_label("New job").fill("Miller")
    person.press("Begin")
    person.new_wall("north wall", "casing", "inside corner", room="dining room")
    person.follow("All walls")
    person.new_wall("east wall", "inside corner", "bullnose corner")
    person.all_kept()
    job = JobFolder(desk.folder / "miller").load()
    assert [(wall.name, wall.left, wall.right) for wall in job.walls] == [
        ("north wall", "casing", "inside corner"),
        ("east wall", "inside corner", "bullnose corner"),
    ]


@pytest.mark.parametrize(
    ("keys", "inches"),
    [
        pytest.param(["3", "ft", "0", "1/2"], Fraction(73, 2), id="feet, inches and sixteenths"),
        pytest.param(["1", "1", "1", "11/16"], Fraction(1787, 16), id="inches and sixteenths"),
        pytest.param(["5", "Rub out", "7"], Fraction(7), id="rubbed out"),
        pytest.param(["in millimetres", "9", "2", "7"], Fraction(927 * 5, 127), id="millimetres"),
    ],
)
def test_the_keypad_writes_what_was_tapped(people, folder, keys, inches):
    person = people(ON_WALL)
    person.cards_found()
    person.press("Tape")
    person.press("left end")
    person.press("card 5")
    for key in keys:
        person.press("feet so far" if key == "ft" else key)
    person.press("Keep")
    eventually(lambda: tapes_on_disk(folder), [inches])


# The checklist of conditions.


def answer_by_taps(person: Person, question: dict) -> str:
    """Answer one question of the checklist, without typing; what the report prints of it."""
    name = question["name"]
    if question["choices"]:
        words = question["choices"][-1][1]
        person.page.get_by_role("group", name=name).get_by_role("button", name=words).tap()
        return words
    person.press(name, exact=False)
    if question["how"]:
        person.press('1/8"')
        person.press(question["how"][0])
        return f'out by 1/8" ({question["how"][0]})'
    if question["length"]:
        person.length(Fraction(11, 16))
        return '11/16"'
    person.press(question["offered"][0])
    return question["offered"][0]


def noted(folder: JobFolder, on: str) -> dict:
    """What the job holds of a wall's checklist, or of the house's."""
    job = folder.load()
    return (job.wall(on) if on else job).conditions.model_dump(exclude_defaults=True)


@pytest.mark.parametrize(("path", "on"), [(ON_WALL, WALL), ("/job/job", "")], ids=["of a wall", "of the house"])
def test_every_question_of_the_checklist_is_answered_by_taps_undone_and_printed(people, folder, path, on):
    person = people(path)
    person.button("Wall material", exact=False).wait_for()
    asked = [question for question in QUESTIONS if question["house"] or on]
    assert {question["key"] for question in asked} == set(Conditions.model_fields if on else OF_THE_HOUSE)
    said = {}
    for question in asked:
        said[question["name"]] = answer_by_taps(person, question)
        eventually(lambda key=question["key"]: key in noted(folder, on), True)
        expect(person.page.locator("#conditions")).to_contain_text(said[question["name"]])
    person.all_kept()
    person.press("House built" if on else "Built", exact=False)
    person.press("1965")
    eventually(lambda: folder.load().year_built, 1965)
    expect(person.page.locator("#conditions")).not_to_contain_text("not known")
    assert faults_of(person.page) == []
    assert person.page.evaluate(TARGETS) == []
    assert person.page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    printed = site_report(folder)
    assert "Year built 1965" in printed
    for name, words in said.items():
        assert f"{name} {words}" in printed
    person.press("Undo", exact=False)
    eventually(lambda: folder.load().year_built, None)
    for left in range(len(asked) - 1, -1, -1):
        person.press("Undo", exact=False)
        eventually(lambda left=left: len(noted(folder, on)) == left, True)
        person.all_kept()


def site_report(folder: JobFolder) -> str:
    """What the site report says, made anew; its marks of feet and inches as a keyboard has them."""
    file = make_papers(folder, folder.path / "papers", lambda _: None)[0]
    words = " ".join(page.extract_text() for page in PdfReader(file).pages)
    return " ".join(words.replace("\N{FRACTION SLASH}", "/").replace("\N{DOUBLE PRIME}", '"').split())


def test_a_wall_shows_what_holds_for_the_house_until_it_has_its_own(people, folder):
    actions.set_conditions(folder, None, {"material": "drywall", "paint": "suspected"})
    person = people(ON_WALL)
    expect(person.button("Wall material", exact=False)).to_contain_text("drywall (the house)")
    paint = person.page.get_by_role("group", name="Lead in paint")
    expect(paint).to_contain_text("suspected, not tested (the house)")
    paint.get_by_role("button", name="tested: none found").tap()
    expect(paint.get_by_role("button", name="tested: none found")).to_have_attribute("aria-pressed", "true")
    eventually(lambda: noted(folder, WALL), {"paint": Suspect.FREE})
    paint.get_by_role("button", name="tested: none found").tap()  # a second tap takes it back
    eventually(lambda: noted(folder, WALL), {})


def test_an_answer_that_is_cut_off_on_its_way_is_asked_for_again(people):
    person = people("/job/job")
    cut = []

    def cut_off(route):
        cut.append(route.request.url)
        route.fulfill(status=200, content_type="application/json", body='{"missing": ["the left')

    person.page.route("**/measured", cut_off)
    person.follow(WALL)
    eventually(lambda: any("long%20wall" in url for url in cut), True)
    person.page.unroute("**/measured")
    expect(person.page.locator("#missing")).to_contain_text("the left end is not marked", timeout=PATIENCE)


def test_a_wall_that_is_taken_away_offers_nothing_until_it_is_back(people, folder):
    person = people(ON_WALL)
    person.cards_found()
    actions.remove_wall(folder, WALL)
    main = person.page.locator("#main")
    expect(main).to_have_text("This wall is not in the job.", use_inner_text=True, timeout=PATIENCE)
    expect(main.get_by_role("button")).to_have_count(0)
    folder.undo()
    expect(person.button("Mark")).to_be_visible(timeout=PATIENCE)
    expect(person.page.get_by_text("This wall is not in the job.")).to_be_hidden()


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
    for inches in (10, 24, 30, 40):
        person.length(Fraction(inches))
    expect(person.page.get_by_text("floor to window 1 bottom")).to_be_visible()  # what was noted last
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
    ]
    expect(person.page.get_by_text("Nothing is missing on this wall.")).to_be_visible()


def test_a_reading_in_millimetres_stays_as_it_was_when_it_is_held_back(people, folder):
    actions.set_about(folder, {"units": "mm"})
    actions.add_tape(folder, WALL, Tape(start="left end", end="right end", length=1000 * MM, along=Along.ACROSS))
    person = people(ON_WALL)
    person.press("left end to right end", exact=False)
    person.press("Hold it back, to check by")
    person.all_kept()
    eventually(lambda: [(t.length, t.check_only) for t in folder.load().wall(WALL).tapes], [(1000 * MM, True)])


# Marks.


def test_a_mark_is_tapped_under_the_loupe_and_moved_by_arrow_keys(people, folder):
    person = people(ON_WALL)
    person.open_photo("wall.jpg")
    mark_receptacle(person, *PLACED["receptacle 1"])
    person.all_kept()
    eventually(lambda: names_on_disk(folder), ["receptacle 1"])
    before = folder.load().wall(WALL).marks[0].sights
    person.press("Marks here")
    person.press("receptacle 1")
    person.press("Move it")
    for _ in range(3):
        person.page.keyboard.press("ArrowRight")
    person.press("Keep it so")
    eventually(lambda: folder.load().wall(WALL).marks[0].sights != before, True)
    after = folder.load().wall(WALL).marks[0].sights
    assert after[0].u == pytest.approx(before[0].u + 3, abs=0.05)  # sights are sent to a tenth of a pixel
    assert after[0].v == pytest.approx(before[0].v, abs=0.05)
    assert after[1] == before[1]


def test_the_edge_of_a_wall_end_is_looked_for(people):
    person = people(ON_WALL)
    person.open_photo("wall.jpg")
    person.begin("wall end")
    person.press("left end")
    tap_at(person, 20.0, 40.0)
    tap_at(person, 20.0, 60.0)
    said = person.prompt().filter(has_text=re.compile("no clear edge|edges found"))
    said.wait_for()
    assert "Which end" not in said.inner_text()


def test_a_mark_is_made_with_the_keyboard_alone(people, folder):
    person = people(ON_WALL, LAPTOP)
    keyboard = person.page.keyboard
    person.button("Mark in wall.jpg").focus()
    keyboard.press("Enter")
    person.button("Mark something").wait_for()
    person.button("Mark something").focus()
    keyboard.press("Enter")
    person.button("damage").focus()
    keyboard.press("Enter")
    person.prompt().filter(has_text="upper left").wait_for()
    person.page.get_by_role("application").focus()
    keyboard.press("ArrowLeft")
    keyboard.press("Enter")
    for _ in range(5):
        keyboard.press("Shift+ArrowDown")
        keyboard.press("Shift+ArrowRight")
    keyboard.press("Enter")
    person.prompt().filter(has_text="is noted").wait_for()
    keyboard.press("Escape")
    eventually(lambda: names_on_disk(folder), ["damage 1"])
    (damage,) = folder.load().wall(WALL).marks
    left_top, right_bottom = damage.sights
    assert right_bottom.u > left_top.u
    assert right_bottom.v > left_top.v


def line_between(start, end, steps=8) -> list[tuple[float, float]]:
    """A finger's path."""
    return [tuple(a + (b - a) * i / steps for a, b in zip(start, end, strict=True)) for i in range(steps + 1)]


def middle_of_view(person: Person) -> tuple[float, float]:
    box = person.page.locator("dialog.marking .view").bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def spread(person: Person, middle, before: float, after: float) -> None:
    """Two fingers, so far from a middle [CSS px], moved until they are so far from it."""
    x, y = middle
    person.fingers(line_between((x - before, y), (x - after, y)), line_between((x + before, y), (x + after, y)))


@pytest.mark.parametrize("placing", [False, True], ids=["looking", "with a mark begun"])
def test_two_fingers_enlarge_about_their_middle_and_move_the_picture(people, folder, placing):
    person = people(ON_WALL)
    person.open_photo("wall.jpg")
    if placing:
        person.begin("receptacle")
    x, y = middle_of_view(person)
    scale, left, top = person.lies()
    spread(person, (x, y), 40, 120)
    larger, left_then, top_then = person.lies()
    assert larger == pytest.approx(3 * scale, rel=0.01)
    assert (x - left_then) / larger == pytest.approx((x - left) / scale, abs=1)  # picture px
    assert (y - top_then) / larger == pytest.approx((y - top) / scale, abs=1)
    person.fingers(line_between((x - 60, y), (x - 20, y + 30)), line_between((x + 60, y), (x + 100, y + 30)))
    assert person.lies() == pytest.approx((larger, left_then + 40, top_then + 30), abs=0.5)
    spread(person, (x, y), 150, 20)
    assert person.lies()[0] == pytest.approx(scale, rel=0.01)  # no smaller than all of it
    expect(person.page.locator(".loupe")).to_be_hidden()
    if placing:
        expect(person.prompt()).to_contain_text("upper left")  # nothing was set by it
    assert names_on_disk(folder) == []


def test_a_double_tap_enlarges_there_and_another_shows_all(people):
    person = people(ON_WALL)
    person.open_photo("wall.jpg")
    x, y = middle_of_view(person)
    there, (scale, left, top) = (x + 60, y + 30), person.lies()
    person.double_tap(there)
    larger, left_then, top_then = person.lies()
    assert larger == pytest.approx(3 * scale, rel=0.01)
    assert (there[0] - left_then) / larger == pytest.approx((there[0] - left) / scale, abs=1)  # picture px
    assert (there[1] - top_then) / larger == pytest.approx((there[1] - top) / scale, abs=1)
    person.double_tap(there)
    assert person.lies() == pytest.approx((scale, left, top), abs=0.5)


def noted_receptacle(folder: JobFolder) -> None:
    """A receptacle that was marked by two corners before."""
    x, y = PLACED["receptacle 1"]
    places = zip(("top left", "bottom right"), pixels_of([(x - 1.4, y + 2.25), (x + 1.4, y - 2.25)]), strict=True)
    sights = tuple(Sight(photo="wall.jpg", u=u, v=v, at=at) for at, (u, v) in places)
    actions.add_mark(folder, WALL, Mark(name="receptacle 1", kind="receptacle", sights=sights))


def sizes(person: Person) -> tuple[float, float]:
    """Width and height of what is being moved, picture px."""
    scale, _, _ = person.lies()
    box = person.page.locator(".marks .draft polygon").bounding_box()
    return box["width"] / scale, box["height"] / scale


GAIN = 0.4  # of a finger's way: the cross moves by so much


@pytest.mark.parametrize("picture", ["wall.jpg", "The wall square-on"])
def test_a_mark_is_dragged_under_the_loupe(people, folder, picture):
    """On a photo and on the square-on picture: its corner follows, and the other stays, to a tenth of a pixel."""
    noted_receptacle(folder)
    before = folder.load().wall(WALL).marks[0].sights
    person = people(ON_WALL)
    expect(person.page.get_by_text("Still missing")).to_be_visible()
    person.press("Mark")
    person.press(picture, exact=False)
    person.button("Marks here").wait_for()
    person.press("Marks here")
    person.press("receptacle 1")
    person.press("Move it")
    handle = person.page.locator(".marks .handle circle").first
    handle.wait_for()
    size_before = sizes(person)
    box = handle.bounding_box()
    start = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    person.fingers(line_between(start, end := (start[0] - 30, start[1] - 20)), lift=False)
    loupe = person.page.locator(".loupe")
    expect(loupe).to_be_visible()
    beside = loupe.bounding_box()
    hidden = [
        0 < at - beside[axis] < beside[side] for at, axis, side in zip(end, "xy", ("width", "height"), strict=True)
    ]
    assert not all(hidden)  # by the finger
    person.lift()
    expect(loupe).to_be_hidden()
    moved = handle.bounding_box()
    assert moved["x"] - box["x"] == pytest.approx(-30 * GAIN, abs=1)
    assert moved["y"] - box["y"] == pytest.approx(-20 * GAIN, abs=1)
    far = 30 * GAIN / person.lies()[0]  # px of this picture
    person.press("Keep it so")
    expect(person.prompt()).to_contain_text("is noted")
    eventually(lambda: folder.load().wall(WALL).marks[0].sights != before, True)
    after = folder.load().wall(WALL).marks[0].sights
    assert (after[1].u, after[1].v) == pytest.approx((before[1].u, before[1].v), abs=0.06)
    if picture == "wall.jpg":
        assert before[0].u - after[0].u == pytest.approx(far, rel=0.05)
    assert after[0].v < before[0].v
    person.press("Marks here")
    person.press("receptacle 1")
    person.press("Move it")
    handle.wait_for()
    person.page.wait_for_timeout(500)
    assert sizes(person) != pytest.approx(size_before, abs=0.5)  # it is shown where it was put


# Nothing lost.


def test_what_is_done_without_a_connection_is_kept_and_sent_later(people, folder):
    person = people(ON_WALL)
    person.open_photo("wall.jpg")
    person.page.context.set_offline(True)
    mark_receptacle(person, *PLACED["receptacle 1"])
    person.leave_marking()
    person.tape("left end", "receptacle 1 left", Fraction(389, 8))
    expect(person.page.locator("#status")).to_have_text("2 not yet on the laptop", timeout=PATIENCE)
    assert names_on_disk(folder) == []
    expect(person.button("receptacle 1", exact=False).first).to_be_visible()
    person.page.context.set_offline(False)
    person.all_kept()
    assert names_on_disk(folder) == ["receptacle 1"]
    assert tapes_on_disk(folder) == [Fraction(389, 8)]


def test_a_file_that_is_no_photo_is_told_and_can_be_let_go(people, folder, tmp_path):
    (tmp_path / "notes.jpg").write_text("not a photo")
    person = people(ON_WALL)
    person.cards_found()
    person.photos(tmp_path / "notes.jpg")
    expect(person.page.locator(".photo", has_text="notes.jpg")).to_contain_text(
        "is not a JPEG, PNG or HEIC photo", timeout=PATIENCE
    )
    person.press("Let it go")
    person.all_kept()
    assert [photo.name for photo in folder.load().wall(WALL).photos] == ["wall.jpg"]


def test_a_wall_is_added_and_photographed_without_a_connection(people, folder, wall_photo):
    person = people("/job/job")
    person.button("Next wall").wait_for()
    person.page.context.set_offline(True)
    person.new_wall("passage wall", "bullnose corner", "open end")
    person.photos(wall_photo)
    expect(person.page.locator("#status")).to_have_text("2 not yet on the laptop", timeout=PATIENCE)
    person.open_photo("wall.jpg")
    mark_receptacle(person, *PLACED["receptacle 1"])
    person.leave_marking()
    person.page.context.set_offline(False)
    person.all_kept()
    wall = folder.load().wall("passage wall")
    assert [photo.name for photo in wall.photos] == ["wall.jpg"]
    assert [(mark.name, mark.sights[0].photo) for mark in wall.marks] == [("receptacle 1", "wall.jpg")]


def test_a_closed_page_loses_nothing(people, desk, folder):
    person = people("/job/job")
    person.button("Built", exact=False).wait_for()
    desk.kill()
    person.press("millimetres")
    expect(person.page.locator("#status")).to_have_text("1 not yet on the laptop", timeout=PATIENCE)
    later = person.page.context.new_page()
    person.page.close()
    desk.start()
    later.goto(f"{desk.url}/")
    expect(later.locator("#status")).to_have_text("all kept", timeout=PATIENCE)
    eventually(lambda: folder.load().units, "mm")


def test_a_killed_desk_that_starts_anew_has_every_mark_once(people, desk, folder):
    person = people(ON_WALL)
    person.open_photo("wall.jpg")
    for i in range(4):
        if i == 2:
            desk.kill()
        mark_receptacle(person, 40.0 + 12 * i, 46.0)
    desk.start()
    person.leave_marking()
    person.all_kept()
    assert names_on_disk(folder) == [f"receptacle {n}" for n in range(1, 5)]


def test_an_answer_that_is_lost_does_not_do_the_change_twice(people, folder):
    """The desk has it on disk, the browser never hears of it, and sends it again."""
    person = people("/job/job")
    person.button("Built", exact=False).wait_for()
    lost, before = [], len(list(folder.history.glob("*.json")))

    def lose(route):
        if lost:
            route.continue_()
        else:
            lost.append(route.fetch().status)
            route.abort()

    person.page.route("**/changes", lose)
    with person.page.expect_request("**/changes"):
        person.press("A4")
    person.all_kept()
    assert lost == [200]
    assert folder.load().paper == "a4"
    assert len(list(folder.history.glob("*.json"))) == before + 1


# Two people.


def test_two_people_see_each_other(people):
    one, other = people("/job/job"), people("/job/job", LAPTOP)
    one.press("A4")
    expect(other.button("A4")).to_have_attribute("aria-pressed", "true", timeout=PATIENCE)


def test_two_values_of_one_thing_are_both_shown_and_one_is_chosen(people, folder):
    one, other = people(ON_WALL), people(ON_WALL, LAPTOP)
    for person in (one, other):
        person.cards_found()
        person.all_kept()
    other.page.context.set_offline(True)
    other.tape("left end", "card 5", Fraction(125, 2))
    one.tape("left end", "card 5", Fraction(62))
    eventually(lambda: tapes_on_disk(folder), [Fraction(62)])
    other.page.context.set_offline(False)
    question = other.page.get_by_role("dialog")
    expect(question).to_contain_text("Which one holds?", timeout=PATIENCE)
    expect(question).to_contain_text('62"')
    expect(question).to_contain_text('62 1/2"')
    assert tapes_on_disk(folder) == [Fraction(62)]  # nothing is overwritten unasked
    other.press("Mine")
    eventually(lambda: tapes_on_disk(folder), [Fraction(125, 2)])


def test_two_marks_of_one_name_can_both_be_kept(people, folder):
    one, other = people(ON_WALL), people(ON_WALL, LAPTOP)
    for person in (one, other):
        person.open_photo("wall.jpg")
    other.page.context.set_offline(True)
    mark_receptacle(other, *PLACED["switch 1"])
    mark_receptacle(one, *PLACED["receptacle 1"])
    one.leave_marking()
    eventually(lambda: names_on_disk(folder), ["receptacle 1"])
    other.leave_marking()
    other.page.context.set_offline(False)
    other.press("Both: they are two things", exact=False)
    eventually(lambda: names_on_disk(folder), ["receptacle 1", "receptacle 2"])


# Undo and redo.


def test_undo_and_redo_by_keys(people, folder):
    person = people("/job/job/plan", LAPTOP)
    field = person.page.get_by_label("Top of all")
    field.fill("40")
    field.press("Enter")
    expect(field).to_have_value('40"', timeout=PATIENCE)
    person.all_kept()
    person.page.locator("h1").click()
    person.page.keyboard.press("Control+z")
    expect(field).to_have_value('36"', timeout=PATIENCE)
    person.page.keyboard.press("Control+Shift+z")
    expect(field).to_have_value('40"', timeout=PATIENCE)
    eventually(lambda: folder.load().scheme.top, 40)


def test_what_is_being_typed_outlives_what_another_changes(people, folder):
    person = people("/job/job/plan", LAPTOP)
    field = person.page.get_by_label("Top of all")
    expect(field).to_have_value('36"', timeout=PATIENCE)
    field.fill("40")
    actions.set_about(folder, {"name": "Another name"})
    expect(person.page.locator("h1")).to_have_text("Another name", timeout=PATIENCE)
    expect(field).to_have_value("40")
    field.press("Enter")
    expect(field).to_have_value('40"', timeout=PATIENCE)
    eventually(lambda: folder.load().scheme.top, 40)


def test_what_is_marked_to_be_typed_over_stays_marked_when_another_changes_something(people, folder):
    person = people("/job/job/plan", LAPTOP)
    field = person.page.get_by_label("Top of all")
    expect(field).to_have_value('36"', timeout=PATIENCE)
    field.click()
    person.page.keyboard.press("Control+a")
    actions.set_about(folder, {"name": "Another name"})
    expect(person.page.locator("h1")).to_have_text("Another name", timeout=PATIENCE)
    person.page.keyboard.type("40")
    expect(field).to_have_value("40")


def test_what_is_held_down_is_not_drawn_anew_until_it_is_let_go(people, folder):
    person = people("/job/job/plan", LAPTOP)
    person.page.get_by_text("Panels by run").click()
    more = person.page.get_by_label("One more on").first
    before = int(more.locator("..").locator("b").inner_text(timeout=PATIENCE))
    more.hover()
    person.page.mouse.down()
    actions.set_about(folder, {"name": "Another name"})
    expect(person.page.locator("h1")).to_have_text("Another name", timeout=PATIENCE)
    person.page.mouse.up()
    expect(more.locator("..").locator("b")).to_have_text(str(before + 1), timeout=PATIENCE)
    eventually(lambda: list(folder.load().scheme.panels.values()), [before + 1])


def test_a_wish_that_cannot_be_built_is_told_and_lets_go(people, folder):
    person = people("/job/job/plan", LAPTOP)
    field = person.page.get_by_label("Top of all")
    field.fill("5")
    field.press("Enter")
    expect(person.page.locator("#status")).to_have_text("1 to settle", timeout=PATIENCE)
    person.press("1 to settle")
    expect(person.page.get_by_role("dialog")).to_contain_text("raise the top or take narrower rails")
    person.press("Settle it")
    person.press("Let it go", exact=False)
    person.all_kept()
    expect(field).to_have_value('36"', timeout=PATIENCE)
    assert folder.load().scheme.top == 36


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


# Names that mean harm.

HOSTILE = [
    pytest.param("<img src=x onerror=document.title='harm'>", id="HTML"),
    pytest.param("\"'`{{7*7}}</script>&amp;", id="quotes and templates"),
    pytest.param("\u202egnol\u202c קיר ארוך", id="right to left"),
    pytest.param("\U0001f6aa \U0001f468‍\U0001f527 wall", id="emoji"),
    pytest.param("../../etc/passwd?#%2e%2f", id="a path"),
    pytest.param("W" * 80, id="as long as may be"),
]


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_is_shown_as_it_is_and_does_no_harm(people, desk, folder, name):
    actions.set_about(folder, {"customer": name})
    actions.set_wall(folder, name, None, {"width": Fraction(96)})
    person = people("/job/job")
    link = person.page.get_by_role("link").filter(has_text=name)
    expect(link).to_have_count(1, timeout=PATIENCE)
    expect(person.button("Customer", exact=False)).to_contain_text(name)
    link.tap()
    expect(person.page.locator("h1")).to_have_text(name)
    person.press("Width, taped", exact=False)
    person.length(Fraction(97))
    eventually(lambda: folder.load().wall(name).width, 97)
    assert person.page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    person.page.reload()
    expect(person.page.locator("h1")).to_have_text(name)
    person.page.goto(f"{desk.url}/job/job/plan")
    expect(person.page.get_by_role("button").filter(has_text=name)).to_have_count(1, timeout=PATIENCE)
    assert person.page.evaluate("document.title") != "harm"


# For everyone.

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
LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def faults_of(page) -> list[str]:
    """Serious and critical faults that axe-core finds on a page."""
    found = Axe().run(page, options={"runOnly": LEVELS, "resultTypes": ["violations"]})
    grave = [v for v in found.response["violations"] if v["impact"] in ("serious", "critical")]
    return [f"{v['id']}: {v['nodes'][0]['target']} {v['nodes'][0]['failureSummary']}" for v in grave]


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


TARGETS = """
() => [...document.querySelectorAll('main button, main a, main input, header button, header a, nav a, summary')]
  .filter(e => e.getClientRects().length && !e.classList.contains('spoken'))
  .map(e => [e.textContent.trim() || e.ariaLabel, e.getBoundingClientRect()])
  .filter(([, box]) => box.width < 44 || box.height < 44)
  .map(([name, box]) => `${name} ${box.width} × ${box.height}`)
"""


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
