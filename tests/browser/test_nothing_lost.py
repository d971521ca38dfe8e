"""What was done is never lost and never overwritten: without a connection, by two people, by undo and redo."""

from fractions import Fraction

from playwright.sync_api import expect

from tests.browser.conftest import ON_WALL, PLACED, mark_receptacle, names_on_disk, tapes_on_disk
from tests.conftest import WALL
from tests.desk import LAPTOP, PATIENCE, eventually
from wainscribe import actions

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
