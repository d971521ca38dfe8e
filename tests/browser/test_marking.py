"""Marks made, moved and dragged: by finger, loupe, arrow keys and keyboard alone."""

import re

import pytest
from playwright.sync_api import expect

from capture.record import Mark, Sight
from tests.browser.conftest import ON_WALL, PLACED, mark_receptacle, names_on_disk, tap_at
from tests.conftest import WALL, pixels_of
from tests.desk import LAPTOP, Person, eventually
from wainscribe import actions
from wainscribe.folder import JobFolder


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
