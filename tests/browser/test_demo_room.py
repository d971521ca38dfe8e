"""The whole job of the demo room in a browser, from an empty folder to the papers, by thumb and by mouse."""

import shutil
from collections.abc import Callable
from fractions import Fraction

import pytest
from playwright.sync_api import expect
from pypdf import PdfReader

from capture.record import Kind, Mark
from fixtures import demo_job
from tests import truth
from tests.desk import LAPTOP, PATIENCE, PHONE, Desk, Person, context, eventually, open_desk
from wainscribe import actions
from wainscribe.folder import JobFolder

LONG = 4 * PATIENCE  # ms: papers, and photos of 12 megapixels on a loaded machine
PHOTOS = demo_job.DEMO / "photos"
JOB = "dining room, demo"
LEFT_OUT = (Kind.IN_FRONT, Kind.DAMAGE)  # outlines of thirty corners say nothing that one of five does not
BASES = {Fraction(9, 16): '9/16"'}


def begin_job(person: Person, desk: Desk) -> None:
    """The job, its printed cards and its walls in order round the room."""
    person.page.goto(desk.url)
    person.page.get_by_label("New job").fill(JOB)
    person.press("Begin")
    person.press("Printed cards", exact=False)
    person.press('5 63/64"')
    person.press('9 1/64"')
    for name, wall in demo_job.WALLS.items():
        new = name == next(iter(demo_job.WALLS))
        person.new_wall(name, wall["left"].value, wall["right"].value, demo_job.ROOM if new else "")
        for field, words in (("width", "Width"), ("bullnose_radius", "Radius of the bullnose")):
            if field in wall:
                person.press(words, exact=False)
                person.length(wall[field])
        person.follow("All walls")


def take_photos(person: Person, wall: str) -> None:
    """All photos of a wall at once."""
    names = demo_job.PHOTOS[wall]
    person.photos(*[PHOTOS / name for name in names])
    expect(person.page.locator(".cards-found")).to_have_count(len(names), timeout=LONG)


def mark_in_photos(person: Person, marks: list[Mark], opened: Callable[[str], None]) -> None:
    """Everything that is marked, photo by photo."""
    for photo in dict.fromkeys(s.photo for mark in marks for s in mark.sights):
        person.open_photo(photo)
        opened(photo)
        for mark in marks:
            if any(s.photo == photo for s in mark.sights):
                mark_one(person, mark, photo)
        person.leave_marking()


def mark_one(person: Person, mark: Mark, photo: str) -> None:
    """One mark in one photo, with what is asked before it is tapped."""
    first = mark.sights[0].photo == photo
    person.begin(mark.kind.value)
    if mark.side is not None and mark.kind is Kind.WALL_END:
        person.press(f"{mark.side} end")
    else:
        asked_for(person, mark, first)
    person.asked_to_tap().wait_for()
    wanted = {"top left", "bottom right", "point", "stool", "apron"}
    for sight in [s for s in mark.sights if s.photo == photo and s.at.value in wanted]:
        person.tap_pixel(sight.u, sight.v)
    if mark.kind is Kind.WALL_END and len([s for s in mark.sights if s.photo == photo]) == 1:
        person.press("Leave it out")
    person.settle_mark()


def asked_for(person: Person, mark: Mark, first: bool) -> None:
    """Which one it is, and how thick the base is."""
    sheet = person.page.locator("dialog.sheet[open]")
    person.asked_to_tap().or_(sheet).first.wait_for()
    if not sheet.count():
        return
    if mark.kind is Kind.FLOOR_POINT:
        person.press(BASES[mark.projection])
    elif first:
        person.press(f"another {mark.kind}")
    else:
        person.press(mark.name, exact=False)


def tell_more(person: Person, mark: Mark) -> None:
    """The stud and the cable, by taps."""
    person.press(mark.name, exact=False)
    person.press("Tell more")
    if mark.stud_side is not None:
        person.press(mark.stud_side.value)
    if mark.cable_slack is not None:
        person.press("Cable slack", exact=False)
        person.length(mark.cable_slack)
    person.press("Close")
    person.leave_marking()


def walk(person: Person, opened: Callable[[str], None], mended: Callable[[], None]) -> None:
    """Photos, marks and readings of every wall; what breaks when a photo is opened is mended when all is tapped."""
    for wall in demo_job.WALLS:
        person.follow(wall)
        take_photos(person, wall)
        marks = [mark for mark in renamed(wall) if mark.kind not in LEFT_OUT]
        mark_in_photos(person, marks, opened)
        for mark in marks:
            if mark.stud_side is not None:
                tell_more(person, mark)
        for tape in demo_job.TAPES.get(wall, ()):
            person.tape(tape.start, tape.end, tape.length)
        mended()
        person.all_kept()
        person.follow("All walls")


def renamed(wall: str) -> list[Mark]:
    """The demo's marks as the page names them: each kind counted from 1, in the order in which they are tapped."""
    count: dict[Kind, int] = {}
    named = []
    for mark in demo_job.MARKS[wall]:
        count[mark.kind] = count.get(mark.kind, 0) + 1
        name = mark.name if mark.kind is Kind.WALL_END else f"{mark.kind} {count[mark.kind]}"
        named.append(mark.model_copy(update={"name": name}))
    return named


def make_papers(person: Person) -> None:
    person.follow("Papers")
    person.press("Make the papers")
    expect(person.page.get_by_role("link", name="Site report")).to_be_visible(timeout=LONG)


def check(desk: Desk) -> None:
    """What stands on the disk is the demo room: every plate where the renderer put it, and papers that can be read."""
    folder = JobFolder(next(path for path in desk.folder.iterdir() if (path / "job.json").exists()))
    job = folder.load()
    assert [wall.name for wall in job.walls] == list(demo_job.WALLS)
    for wall in job.walls:
        wanted = [mark.name for mark in renamed(wall.name) if mark.kind not in LEFT_OUT]
        assert sorted(mark.name for mark in wall.marks) == sorted(wanted)
        check_places(folder, job, wall.name)
    pages = PdfReader(folder.path / "papers" / "site-report.pdf").pages
    assert any("receptacle 1" in page.extract_text().lower() for page in pages)


def check_places(folder: JobFolder, job, wall: str) -> None:
    """Every receptacle within half an inch: what a thumb may be off by (capture.rectangles.THUMB).

    A mark taken for another, or a pixel put into the wrong frame, would be off by many inches.
    """
    survey = actions.solve_wall(folder, job, wall).measured.survey
    true = {feature["name"]: feature for feature in truth.WALLS[wall]["features"]}
    for mine, theirs in zip(renamed(wall), demo_job.MARKS[wall], strict=True):
        if mine.kind is Kind.RECEPTACLE:
            feature = survey.feature(mine.name)
            for side in ("left", "right", "top", "bottom"):
                assert getattr(feature, side).value == pytest.approx(true[theirs.name][side], abs=0.5)


@pytest.mark.slow
@pytest.mark.parametrize("size", [pytest.param(PHONE, id="by thumb"), pytest.param(LAPTOP, id="by mouse")])
def test_the_whole_job_of_the_demo_room(browser, tmp_path, size):
    """By thumb the connection breaks on the second wall and the desk is killed on the third: nothing is lost by it."""
    with open_desk(tmp_path) as desk:
        visit = context(browser, size)
        person = Person(visit.new_page(), touch=size == PHONE)

        def opened(photo: str) -> None:
            if size == PHONE and photo == demo_job.LONG_2:
                visit.set_offline(True)
            if size == PHONE and photo == demo_job.PASSAGE:
                desk.kill()

        def mended() -> None:
            visit.set_offline(False)
            if desk.process.poll() is not None:
                desk.start()

        begin_job(person, desk)
        walk(person, opened, mended)
        person.follow("Plan")
        expect(person.page.get_by_role("heading", name="receptacle 1", exact=False).first).to_be_visible(timeout=LONG)
        if size == LAPTOP:
            pin_and_free(person, desk)
        make_papers(person)
        check(desk)
        assert person.faults == []
        visit.close()


def pin_and_free(person: Person, desk: Desk) -> None:
    """A way out is chosen, seen to be chosen, and taken back by keys."""

    def pins() -> dict[str, str]:
        return dict(next(iter(jobs(desk))).load().scheme.pins)

    choice = person.page.get_by_role("button", name="accept for receptacle 1: choose").first
    choice.click()
    eventually(lambda: list(pins().values()), ["leave"])
    expect(person.page.get_by_role("button", name="accept for receptacle 1: chosen", exact=False).first).to_be_visible(
        timeout=LONG
    )
    expect(person.page.locator("#walls")).to_contain_text("2 in the way, 1 decided, 1 to decide")
    expect(person.page.locator("#conflicts h3").filter(has_text=", decided")).to_have_count(1)
    person.page.locator("h1").click()
    person.page.keyboard.press("Control+z")
    eventually(pins, {})
    person.all_kept()


def jobs(desk: Desk):
    return (JobFolder(path) for path in desk.folder.iterdir() if (path / "job.json").exists())


@pytest.mark.slow
def test_marks_are_tapped_on_the_wall_square_on(browser, tmp_path):
    """A tap on the elevation becomes sights in the photo that shows the place."""
    shutil.copytree(demo_job.DEMO, tmp_path / "demo")
    folder = JobFolder(tmp_path / "demo")
    with open_desk(tmp_path) as desk:
        visit = context(browser, LAPTOP)
        person = Person(visit.new_page(), touch=False)
        person.page.goto(f"{desk.url}/job/demo/wall/long%20wall")
        expect(person.page.get_by_text("Still missing")).to_be_visible(timeout=LONG)
        person.press("Mark")
        person.press("The wall square-on", exact=False)
        person.button("Mark something").wait_for(timeout=LONG)
        person.begin("stud")
        person.tap_pixel(400, 700)
        person.press("Leave it out")
        person.prompt().filter(has_text="is noted").wait_for()
        eventually(lambda: [m.kind for m in folder.load().wall("long wall").marks][-1], Kind.STUD)
        visit.close()
