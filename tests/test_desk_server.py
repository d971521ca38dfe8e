"""The desk's answers: every kind of change seen in job.json, photos and their pictures, the plan, the papers."""

import io
import json
import re
import shutil
import time
import uuid
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pillow_heif import register_heif_opener

from capture.record import TRAITS, At, Kind, Mark, Sight
from tests import truth
from tests.conftest import PLACED, WALL, pixels_of
from wainscribe import actions, told
from wainscribe.desk.app import create_app, the_desk
from wainscribe.desk.pictures import overlaid
from wainscribe.folder import JobFolder

GPS, ORIENTATION, MAKE = 0x8825, 0x0112, 0x010F  # tags of Exif 2.32
QUARTER_TURN = 6  # Exif 2.32, 4.6.4: the first row is the right side


class Browser:
    """Somebody at a job on this machine."""

    def __init__(self, place, job="job") -> None:
        self.app = create_app(place)
        self.client, self.job = self.app.test_client(), job
        with self.app.app_context():
            self.headers = {"X-Desk-Token": the_desk().guard.token("here")}

    def get(self, path="", **more):
        return self.client.get(f"/api/jobs/{self.job}{path}", **more)

    def post(self, path, data):
        return self.client.post(f"/api/jobs/{self.job}{path}", json=data, headers=self.headers)

    def change(self, do, **given):
        change = {"id": str(uuid.uuid4()), "do": do, **given}
        return self.post("/changes", {"changes": [change]}).json["results"][0]

    def send(self, wall, data, name="a.jpg", sent=None, **more):
        form = {"id": sent or str(uuid.uuid4()), "file": (io.BytesIO(data), name), **more}
        return self.client.post(f"/api/jobs/{self.job}/walls/{wall}/photos", data=form, headers=self.headers)


@pytest.fixture
def browser(job):
    return Browser(job)


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo job; only looked at."""
    return Browser(shutil.copytree(truth.DEMO, tmp_path_factory.mktemp("shown") / "demo"), "demo")


def box(x, y, name=None, kind="receptacle"):
    """A box as tapped in the one photo of the test wall, 2 3/4 by 4 1/2 in."""
    corners = [(x - 1.375, y + 2.25), (x + 1.375, y - 2.25)]
    sights = [
        {"photo": "wall.jpg", "u": float(u), "v": float(v), "at": at}
        for at, (u, v) in zip(("top left", "bottom right"), pixels_of(corners), strict=True)
    ]
    return {"kind": kind, "sights": sights, **({"name": name} if name else {})}


# Every kind of change, and what it leaves in job.json.

MADE = {
    "new-wall": (
        {"name": "short", "room": "hall", "width": "92 1/2"},
        lambda job: (job.wall("short").width, [r.name for r in job.rooms]),
        ("185/2", "hall"),
    ),
    "wall": (
        {"name": WALL, "ceiling": "96", "note": "plaster"},
        lambda job: (job.wall(WALL).ceiling, job.wall(WALL).note),
        ("96", "plaster"),
    ),
    "remove-wall": ({"name": WALL}, lambda job: [w.name for w in job.walls], ()),
    "mark": (
        {"wall": WALL, "mark": box(50, 48), "seen": None},
        lambda job: [m.name for m in job.wall(WALL).marks],
        ("receptacle 1",),
    ),
    "tape": (
        {"wall": WALL, "start": "left end", "end": "right end", "length": "119 7/8"},
        lambda job: [(t.start, t.end, t.length) for t in job.wall(WALL).tapes],
        ("left end", "right end", "959/8"),
    ),
    "about": ({"facts": {"customer": "Miller"}}, lambda job: job.customer, ("Miller",)),
    "scheme": ({"wishes": {"top_rail": "4 1/4"}}, lambda job: job.scheme.top_rail, ("17/4",)),
    "print-run": ({"name": "second", "across": "5 31/32"}, lambda job: job.print_run.name, ("second",)),
    "aside": ({"wall": WALL, "card": 5}, lambda job: [(a.card, a.photo) for a in job.wall(WALL).asides], ("5",)),
    "photo": (
        {"wall": WALL, "photo": "wall.jpg", "caption": "from the door"},
        lambda job: job.wall(WALL).photos[0].caption,
        ("from the door",),
    ),
    "remove-photo": ({"wall": WALL, "photo": "wall.jpg"}, lambda job: job.wall(WALL).photos, ()),
}


@pytest.mark.parametrize("do", MADE)
def test_a_change_is_in_the_job_file(browser, folder, do):
    given, look, expected = MADE[do]
    before = str(look(folder.load())) if do != "new-wall" else ""
    answer = browser.change(do, **given)
    assert answer.get("ok"), answer
    after = str(look(JobFolder(folder.path).load()))
    assert after != before
    assert all(
        text in after.replace("Fraction(185, 2)", "185/2").replace("Fraction(959, 8)", "959/8") for text in expected
    ), after
    assert browser.get().json["job"] == JobFolder(folder.path).load().model_dump(mode="json")


def test_marks_and_readings_are_taken_away_again(browser, folder):
    browser.change("mark", wall=WALL, mark=box(50, 48))
    browser.change("tape", wall=WALL, start="left end", end="receptacle 1 left", length="48 5/8")
    assert browser.change("remove-tape", wall=WALL, start="left end", end="receptacle 1 left")["now"] is None
    assert not folder.load().wall(WALL).tapes
    assert browser.change("remove-mark", wall=WALL, name="receptacle 1")["now"] is None
    assert not folder.load().wall(WALL).marks


def test_conditions_are_of_a_wall_or_of_the_house_and_not_overwritten_unseen(browser, folder):
    assert browser.change("conditions", wall=WALL, facts={"flat": "1/8, string line"}, seen={"flat": None})["ok"]
    assert browser.change("conditions", facts={"base": "removed"})["ok"]
    job = folder.load()
    assert (job.wall(WALL).conditions.flat.off, job.conditions.base) == (Fraction(1, 8), "removed")
    assert browser.change("conditions", wall=WALL, facts={"flat": ""}, seen={"flat": None})["clash"]["now"] == {
        "flat": {"off": "1/8", "how": "string line"}
    }
    seen = {"flat": {"off": '1/8"', "how": "string line"}}
    assert browser.change("conditions", wall=WALL, facts={"flat": ""}, seen=seen)["now"] == {"flat": None}
    assert browser.get().json["undo_says"] == f"flat of “{WALL}” changed"
    assert "“base” cannot be" in browser.change("conditions", facts={"base": "stays"})["error"]


def test_a_wrong_change_is_refused_in_a_sentence_and_the_others_are_made(browser, folder):
    wrong = [
        {"do": "mark", "wall": "none", "mark": box(50, 48)},
        {"do": "fly"},
        {"do": "tape", "wall": WALL, "start": 3},
        {"do": "mark", "wall": WALL, "mark": {"kind": "receptacle", "colour": "red"}},
        {"do": "tape", "wall": WALL, "start": "left end", "end": "right end", "length": "long"},
    ]
    right = {"do": "about", "facts": {"customer": "Miller"}}
    changes = [{"id": str(uuid.uuid4()), **one} for one in (*wrong, right)]
    results = browser.post("/changes", {"changes": changes}).json["results"]
    assert [r["id"] for r in results] == [c["id"] for c in changes]
    assert all(r["error"].rstrip().endswith((".", "?")) for r in results[:-1])
    assert results[-1]["ok"]
    assert folder.load().customer == "Miller"


@pytest.mark.parametrize("name", [".", ".."])
def test_a_name_that_no_address_can_hold_is_refused_but_an_old_job_still_opens(browser, folder, name):
    """A browser takes . and .. out of an address, escaped or not: RFC 3986, 5.2.4; WHATWG URL, "dot segments"."""
    mark = {**box(50, 48), "name": name}
    for do, given in (
        ("new-wall", {"name": name}),
        ("new-wall", {"name": "b", "room": name}),
        ("mark", {"wall": WALL, "mark": mark}),
    ):
        error = browser.change(do, **given)["error"]
        assert error == f"“{name}” cannot be a name, for no page could show it; give it a word or a number."
    old = json.loads(folder.file.read_text())
    old["rooms"][0]["walls"].append({"name": name})
    folder.file.write_text(json.dumps(old))
    assert browser.change("about", facts={"customer": "Miller"})["ok"]
    assert [wall.name for wall in folder.load().walls] == [WALL, name]
    assert browser.change("remove-wall", name=name)["ok"]


# Snapping.


def test_a_box_is_snapped_by_its_kind_or_its_name_and_nothing_is_kept(browser, folder):
    before = folder.file.read_bytes()
    mark = box(50, 48)
    answer = browser.post(f"/walls/{WALL}/snap", {"photo": "wall.jpg", **mark})
    assert answer.status_code == 200, answer.json
    assert set(answer.json) == {"found", "sights", "moved", "doubt"}
    assert len(answer.json["sights"]) == 2
    bare = [{k: v for k, v in sight.items() if k != "photo"} for sight in mark["sights"]]
    asked = {"photo": "wall.jpg", "kind": "receptacle", "name": "", "sights": bare}
    assert browser.post(f"/walls/{WALL}/snap", asked).json["sights"] == answer.json["sights"]
    assert folder.file.read_bytes() == before


# Photos.


def test_a_photo_tells_at_once_what_it_shows(browser, wall_photo):
    browser.change("new-wall", name="second")
    answer = browser.send("second", wall_photo.read_bytes(), "two.jpg").json
    assert {c["number"] for c in answer["cards"]} == set(PLACED)
    assert answer["size"] == [1600, 1200]
    for card in answer["cards"]:
        x, y, _ = PLACED[card["number"]]
        # The outline's middle is the card's, within what perspective moves the mean of four corners: 5 px here.
        assert np.allclose(np.mean(card["outline"], axis=0), pixels_of([(x, y)])[0], atol=5)
    assert answer["sharpness"]["word"] in ("sharp", "soft")
    same = browser.get(f"/walls/second/photos/{answer['photo']}/cards").json
    assert same["cards"] == answer["cards"]
    assert "the left end is not marked" in browser.get("/walls/second/measured").json["missing"]


def test_a_wall_whose_photo_shows_no_card_lacks_nothing_once_it_is_taped(browser, photos):
    def missing():
        return browser.get("/walls/bare/measured").json["missing"]

    browser.change("new-wall", name="bare")
    assert missing()[0] == "no photo yet"
    photo = browser.send("bare", photos["no card"].read_bytes(), "bare.jpg").json["photo"]
    for record in (True, False):
        browser.change("photo", wall="bare", photo=photo, record_only=record)
        assert missing() == [
            "no photo with a card in it yet; without one, mark by tape",
            "the left end is not marked",
            "the right end is not marked, and the width is not taped",
            "no floor point: mark where the base meets the floor",
            "no tape reading to measure by yet",
        ]
    browser.change("mark", wall="bare", mark={"kind": "receptacle", "name": "receptacle 1", "sights": []})
    browser.change("tape", wall="bare", start="receptacle 1", end="left end", length="40", check_only=True)
    assert "the left end is not marked" in missing()  # held back, it measures nothing
    browser.change("tape", wall="bare", start="receptacle 1", end="left end", length="40")
    browser.change("tape", wall="bare", start="floor", end="receptacle 1", length="16")
    assert missing() == ["the right end is not marked, and the width is not taped"]
    browser.change("wall", name="bare", width="100")
    assert missing() == []


def test_a_photo_sent_again_is_the_same_photo(job, wall_photo):
    sent, browser = str(uuid.uuid4()), Browser(job)
    browser.change("new-wall", name="second")
    first = browser.send("second", wall_photo.read_bytes(), sent=sent).json
    again = Browser(job).send("second", wall_photo.read_bytes(), sent=sent).json  # the desk started anew
    assert again == first
    assert len(JobFolder(job).load().wall("second").photos) == 1


@pytest.fixture(scope="module")
def private():
    """A picture as a phone keeps it: on its side, with the place where it was taken."""
    pixels = np.zeros((300, 400, 3), np.uint8)
    pixels[:, :200] = 200  # the left half is light as stored, so the top half is once it is upright
    exif = Image.Exif()
    exif[ORIENTATION], exif[MAKE] = QUARTER_TURN, "Maker"
    exif.get_ifd(GPS).update({1: "N", 2: (51.0, 30.0, 0.0)})
    return Image.fromarray(pixels), exif


def saved(private, form) -> bytes:
    register_heif_opener()
    out = io.BytesIO()
    picture, exif = private
    picture.save(out, form, exif=exif)
    return out.getvalue()


def test_previews_are_upright_and_tell_neither_place_nor_phone(browser, private):
    data = saved(private, "JPEG")
    assert Image.open(io.BytesIO(data)).getexif().get_ifd(GPS)  # the test would see it
    name = browser.send(WALL, data, "p.jpg").json["photo"]
    for width in ("", "?width=200", "?width=100000"):
        answer = browser.get(f"/walls/{WALL}/photos/{name}.jpg{width}")
        shown = Image.open(io.BytesIO(answer.data))
        assert answer.mimetype == "image/jpeg"
        assert not shown.getexif()
        assert b"Exif" not in answer.data
        assert b"Maker" not in answer.data
        assert shown.width < shown.height
        column = np.asarray(shown.convert("L"), float)[:, shown.width // 2]
        assert column[10] > 150 > 50 > column[-10]


def test_heic_is_taken_and_shown_as_jpeg(browser, private):
    answer = browser.send(WALL, saved(private, "HEIF"), "p.heic")
    assert answer.status_code == 200, answer.json
    shown = browser.get(f"/walls/{WALL}/photos/{answer.json['photo']}.jpg?width=240")
    picture = Image.open(io.BytesIO(shown.data))
    assert picture.format == "JPEG"
    assert not picture.getexif()


# The demo job: measured, planned, in pictures.


def test_the_demo_is_measured_as_the_command_line_measures_it(demo):
    folder = JobFolder(demo.app.extensions["desk"].home.place)
    job = folder.load()
    for solved in actions.solve_job(folder, job):
        answer = demo.get(f"/walls/{solved.wall.name}/measured").json
        plain = told.solved(solved)
        assert [f["name"] for f in answer["features"]] == [f["name"] for f in plain["features"]]
        for one, other in zip(answer["features"], plain["features"], strict=True):
            assert {k: v for k, v in one.items() if k != "shown"} == other
        assert isinstance(answer["missing"], list)


def test_the_plan_tells_what_to_decide_and_every_remedy_has_its_picture(demo):
    plan = demo.get("/plan").json
    assert plan["conflicts"]
    assert all(wall["photos"] for wall in plan["walls"])
    remedies = [r for c in plan["conflicts"] for r in c["remedies"]]
    assert remedies
    for remedy in remedies:
        picture = demo.client.get(remedy["picture"])
        assert picture.mimetype == "image/svg+xml"
        assert b"<svg" in picture.data
        assert b"<script" not in picture.data
        assert remedy["pin"]
        assert all(isinstance(v, str) for v in remedy["pin"].values())
    for wall in plan["walls"]:
        for sheet in ("existing.svg", "planned.svg", f"overlay/{wall['photos'][0]}.jpg?width=480"):
            assert demo.get(f"/walls/{wall['name']}/{sheet}").status_code == 200
    assert demo.get("/next").status_code == 200


def test_a_picture_of_the_plan_is_drawn_anew_when_a_box_is_decided_to_move(tmp_path):
    """The frames and what they hit where it stands now stay the same."""
    folder = JobFolder(Path(shutil.copytree(truth.DEMO, tmp_path / "demo")))
    solved, plan = actions.plan_job(folder, folder.load())
    scheme = actions.set_scheme(folder, {"pin.receptacle 1": "move"})
    wall, decided = plan.wall("long wall"), actions.plan_solved(folder.load(), solved).wall("long wall")
    assert (decided.frames, decided.judgements) == (wall.frames, wall.judgements)
    (one,) = (one for one in solved if one.wall.name == "long wall")
    before, after = (overlaid(folder, one, p, scheme, "long-wall-1.jpg", 480) for p in (wall, decided))
    assert before != after


def test_a_place_on_the_elevation_is_a_pixel_of_a_photo(demo):
    wall = demo.get("/plan").json["walls"][0]["name"]
    about = demo.get(f"/walls/{wall}/elevation.json").json
    picture = Image.open(io.BytesIO(demo.get(f"/walls/{wall}/elevation.jpg").data))
    assert picture.size == (about["width"], about["height"])
    answer = demo.post(f"/walls/{wall}/pixels", {"points": [[40.0, 30.0]]}).json
    solved = actions.solve_wall(folder := JobFolder(demo.app.extensions["desk"].home.place), folder.load(), wall)
    expected = solved.measured.solution.camera(answer["photo"]).project(np.array([[40.0, 30.0, 0.0]]))
    # The picture is kept until a camera moves by 16 px; here it was drawn by this very solution.
    assert np.allclose(answer["pixels"], expected, atol=0.01)


def test_a_mark_dragged_on_the_elevation_is_measured_where_it_was_put(tmp_path):
    """By two photos: the one that shows it best holds the drag, the other follows and weighs nothing."""
    demo = Browser(shutil.copytree(truth.DEMO, tmp_path / "demo"), "demo")
    folder, wall, name = JobFolder(tmp_path / "demo"), "long wall", "receptacle 2"

    def noted():
        return next(m for m in folder.load().wall(wall).marks if m.name == name)

    def feature():
        return next(f for f in demo.get(f"/walls/{wall}/measured").json["features"] if f["name"] == name)

    before, stood = noted(), feature()
    assert len({sight.photo for sight in before.sights}) == 2
    places = demo.get(f"/walls/{wall}/elevation.json").json["marks"][name]
    points = [[place["x"], place["y"]] for place in places]
    same = demo.post(f"/walls/{wall}/moved", {"name": name, "points": points}).json["sights"]
    assert {json.dumps(s) for s in same} == {json.dumps(s.model_dump(mode="json")) for s in before.sights}
    further = [[x + 2.0, y + 1.0] for x, y in points]
    sights = demo.post(f"/walls/{wall}/moved", {"name": name, "points": further}).json["sights"]
    mark = {"name": name, "kind": before.kind, "sights": sights}
    assert demo.change("mark", wall=wall, mark=mark, seen=before.model_dump(mode="json"))["ok"]
    now = feature()
    for edge, moved in (("left", 2.0), ("right", 2.0), ("top", 1.0), ("bottom", 1.0)):
        # The ray meets the plate's face before the wall, so it moves a little less: 5/32 in of some 10 ft.
        assert now[edge]["value"] - stood[edge]["value"] == pytest.approx(moved, abs=0.1)
        assert now[edge]["sd"] >= stood[edge]["sd"]
    assert {sight.photo for sight in noted().sights} == {sight.photo for sight in before.sights}


def test_a_line_dragged_at_one_end_keeps_what_other_photos_show_of_the_other(tmp_path):
    """Both points of a line go by one name: which of them was moved is told by where it stood."""
    demo = Browser(shutil.copytree(truth.DEMO, tmp_path / "demo"), "demo")
    folder, wall, name = JobFolder(tmp_path / "demo"), "long wall", "left stud"
    solved = actions.solve_wall(folder, folder.load(), wall).measured.solution
    low, high = np.array([[60.0, 20.0, 0.0], [60.0, 50.0, 0.0]])
    photos = [photo.name for photo in folder.load().wall(wall).photos if not photo.record_only]
    photos = [photo for photo in photos if solved.camera(photo).sees(np.array([low, high])).all()]
    assert len(photos) >= 2
    pixels = {photo: solved.camera(photo).project(np.array([low, high])) for photo in photos}
    sights = tuple(Sight(photo=p, u=u, v=v, at=At.POINT) for p, both in pixels.items() for u, v in both)
    actions.add_mark(folder, wall, Mark(name=name, kind=Kind.STUD, sights=sights))
    places = demo.get(f"/walls/{wall}/elevation.json").json["marks"][name]
    points = [[place["x"] + 3.0 * (place["y"] > 35), place["y"]] for place in places]  # the upper end alone
    moved = demo.post(f"/walls/{wall}/moved", {"name": name, "points": points}).json["sights"]
    tapped = [s for s in moved if s["sd"] is None]
    lower = [(p, round(both[0][0], 1), round(both[0][1], 1)) for p, both in pixels.items()]
    kept = [(s["photo"], round(s["u"], 1), round(s["v"], 1)) for s in tapped]
    assert set(lower) <= set(kept)
    assert len(tapped) == len(photos) + 1  # every lower point, and the drag itself
    assert len(moved) == len(sights)


def test_papers_are_made_with_their_progress(tmp_path):
    demo = Browser(shutil.copytree(truth.DEMO, tmp_path / "demo"), "demo")
    task = demo.client.post("/api/jobs/demo/papers", headers=demo.headers).json["task"]
    end, seen = time.monotonic() + 300, set()  # s: the machine may be loaded; no test measures time
    while not (state := demo.client.get(f"/api/tasks/{task}").json)["done"]:
        seen.add(len(state["said"]))
        assert time.monotonic() < end
        time.sleep(0.1)
    assert "failed" not in state
    assert state["files"]
    assert state["said"]
    assert sorted(f["name"] for f in demo.get("/papers").json["files"]) == sorted(set(state["files"]))
    paper = demo.client.get(f"/job/demo/papers/{state['files'][0]}")
    assert paper.status_code == 200
    assert paper.data
    paper.close()


def test_the_pages_know_every_kind_of_mark_and_its_shape():
    text = Path("wainscribe/desk/static/mark_kinds.js").read_text("utf-8")
    known = dict(re.findall(r'^  "?([a-z ]+?)"?: \{\s*shape: "([a-z ]+)"', text, re.M))
    assert known == {kind.value: TRAITS[kind].shape.value for kind in Kind}
