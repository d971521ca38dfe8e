"""A job is begun by touch, its checklist answered; names that mean harm do none."""

from fractions import Fraction

import pytest
from playwright.sync_api import expect
from pypdf import PdfReader

from capture.record import Conditions, Suspect
from report.conditions import OF_THE_HOUSE
from tests.browser.conftest import ON_WALL, TARGETS, faults_of, tapes_on_disk
from tests.conftest import WALL
from tests.desk import PATIENCE, PHONE, Person, eventually
from wainscribe import actions
from wainscribe.desk.checklist import QUESTIONS
from wainscribe.folder import JobFolder
from wainscribe.papers import make_papers

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
