"""What the pages say of tape readings, and of a wall whose photos show no card."""

from fractions import Fraction

import pytest
from playwright.sync_api import expect

from capture.record import Along, Kind, Mark, Tape
from tests.browser.conftest import ON_WALL
from tests.conftest import WALL
from tests.desk import PATIENCE, eventually
from wainscribe import actions

NO_CARD = "No card was found in “no card.jpg”: no card is in it, or none is whole."


def test_readings_are_counted_alike_everywhere_the_width_among_them(people, folder, cli):
    for end, check in (("card 3", False), ("card 5", True)):
        tape = Tape(start="left end", end=end, length=Fraction(30), along=Along.ACROSS, check_only=check)
        actions.add_tape(folder, WALL, tape)
    survey = actions.solve_wall(folder, folder.load(), WALL).measured.survey
    assert (len(survey.readings), len(survey.checks)) == (2, 1)
    person = people("/job/job")
    expect(person.page.locator(".card.wall")).to_contain_text("2 readings · 1 held back")
    person.page.goto(person.page.url + "/wall/long%20wall")
    expect(person.page.locator("#tapes li")).to_have_text(
        ['width of the wall120"', 'left end to card 330"', 'left end to card 5held back, to check by30"']
    )
    person.press("width of the wall", exact=False)
    person.length(Fraction(239, 2))
    eventually(lambda: folder.load().wall(WALL).width, Fraction(239, 2))


@pytest.fixture
def bare(folder, photos):
    """A wall with one photo, in which no card was found though it is to be measured in."""
    actions.set_wall(folder, "bare", None, {})
    actions.add_photo(folder, "bare", photos["no card"])
    actions.describe_photo(folder, "bare", "no card.jpg", None, False)


def test_where_a_photo_shows_no_card_that_is_said_once_and_by_tape_is_offered(people, folder, bare):
    person = people("/job/job/wall/bare")
    expect(person.page.locator("#missing")).to_contain_text("no photo with a card in it yet", timeout=PATIENCE)
    expect(person.page.locator(".cards-found")).to_contain_text(NO_CARD, timeout=PATIENCE)
    expect(person.page.get_by_text("no card was found")).to_have_count(1)
    expect(person.page.get_by_text("no card found")).to_have_count(0)
    person.press("Mark")
    expect(person.button("no card.jpg", exact=False)).to_contain_text("nothing in it can be measured yet")
    person.press("By tape", exact=False)
    person.press("stud")
    person.length(Fraction(40))
    eventually(lambda: [tape.length for tape in folder.load().wall("bare").tapes], [40])


def test_a_photo_whose_cards_were_found_is_marked_at_once(people, folder):
    """No choice is asked for where there is but one: while the solve is under way."""
    person = people(ON_WALL)
    person.page.route("**/measured", lambda route: None)  # it takes long
    person.page.reload()
    expect(person.page.locator(".cards-found")).to_contain_text("3 cards", timeout=PATIENCE)
    person.press("Mark")
    expect(person.page.locator("dialog.marking[open]")).to_be_visible()


def test_the_plan_asks_for_a_windows_stool_and_calls_nothing_clear_where_no_box_is_marked(people, folder):
    actions.set_wall(folder, "short wall", None, {"width": "100"})
    window = Mark(name="window 1", kind=Kind.WINDOW, width=Fraction(40), height=Fraction(40))
    reached = (
        Tape(start="left end", end="window 1", length=Fraction(50), along=Along.ACROSS),
        Tape(start="floor", end="window 1", length=Fraction(52), along=Along.UP),
    )
    actions.add_mark(folder, "short wall", window, reached)
    person = people("/job/job/plan")
    expect(person.page.locator("#next")).to_contain_text("“window 1 stool”", timeout=PATIENCE)
    told = person.page.locator("#conflicts")
    expect(told).to_have_text("No box or other thing that could be in the way is marked yet.", timeout=PATIENCE)
    stool = Tape(start="floor", end="window 1 stool", length=Fraction(33), along=Along.UP)
    box = Tape(start="left end", end="switch 1", length=Fraction(10), along=Along.ACROSS)
    high = Tape(start="floor", end="switch 1", length=Fraction(60), along=Along.UP)
    actions.add_tape(folder, "short wall", stool)
    actions.add_mark(folder, "short wall", Mark(name="switch 1", kind=Kind.SWITCH), (box, high))
    expect(told).to_have_text("Nothing is in the way.", timeout=PATIENCE)
    expect(person.page.locator("#next")).not_to_contain_text("stool", timeout=PATIENCE)
