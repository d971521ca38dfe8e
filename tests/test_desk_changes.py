"""Changes from browsers: at most once, never over another's, undone and made again, and on disk when acknowledged."""

import gc
import json
import random
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
import uuid
from fractions import Fraction
from http.client import HTTPException
from pathlib import Path
from threading import Thread
from urllib.parse import quote

import numpy as np
import pytest

from capture import adjust, measure
from tests import truth
from tests.conftest import PLACED, WALL
from tests.desk import eventually, slow_desk
from tests.test_desk_server import Browser, box
from wainscribe import actions
from wainscribe.desk import api
from wainscribe.desk.pictures import Opened
from wainscribe.desk.turns import Turns
from wainscribe.desk.warm import Replaced, Warm
from wainscribe.folder import JobFolder

ROOT = Path(__file__).parent.parent


@pytest.fixture
def browser(job):
    return Browser(job)


def about(customer, **more):
    return {"id": str(uuid.uuid4()), "do": "about", "facts": {"customer": customer}, **more}


def post(browser, *changes):
    return browser.post("/changes", {"changes": list(changes)}).json["results"]


@pytest.mark.parametrize("again", [lambda browser, job: browser, lambda browser, job: Browser(job)])
def test_a_change_is_made_once_however_often_it_is_sent(browser, job, again):
    first = {"id": str(uuid.uuid4()), "do": "mark", "wall": WALL, "mark": box(50, 48)}
    answer = post(browser, first)
    post(browser, about("Miller"))
    assert post(again(browser, job), first, first) == answer * 2
    assert [m.name for m in JobFolder(job).load().wall(WALL).marks] == ["receptacle 1"]
    post(browser, {"id": str(uuid.uuid4()), "do": "remove-mark", "wall": WALL, "name": "receptacle 1"})
    assert post(again(browser, job), first) == answer
    assert not JobFolder(job).load().wall(WALL).marks


def test_what_another_has_changed_is_not_overwritten(browser, folder):
    assert post(browser, about("Miller", seen={"customer": ""}))[0]["ok"]
    before = folder.file.read_bytes()
    answer = post(browser, about("Smith", seen={"customer": ""}))[0]
    assert answer["clash"] == {"now": {"customer": "Miller"}}
    assert folder.file.read_bytes() == before
    assert post(browser, about("Smith", seen={"customer": "Miller"}))[0]["ok"]


def test_of_two_who_add_the_same_mark_the_second_is_asked(browser, folder):
    one = {"do": "mark", "wall": WALL, "mark": box(50, 48, "box"), "seen": None}
    other = {"do": "mark", "wall": WALL, "mark": box(70, 48, "box"), "seen": None}
    first, second = post(browser, {"id": str(uuid.uuid4()), **one}, {"id": str(uuid.uuid4()), **other})
    assert first["ok"]
    assert second["clash"]["now"] == first["now"]
    moved = {"id": str(uuid.uuid4()), **other, "seen": first["now"]}
    assert post(browser, moved)[0]["ok"]


def test_undo_and_redo_also_after_a_restart(browser, job):
    for name in ("one", "two", "three"):
        post(browser, about(name))
    undone = [Browser(job).post("/undo", {}) and JobFolder(job).load().customer for _ in range(3)]
    assert undone == ["two", "one", ""]
    redone = [Browser(job).post("/redo", {}) and JobFolder(job).load().customer for _ in range(3)]
    assert redone == ["one", "two", "three"]
    assert Browser(job).post("/redo", {}).status_code == 400
    browser.post("/undo", {})
    post(browser, about("four"))
    assert not browser.get().json["can_redo"]
    assert browser.post("/redo", {}).status_code == 400


def test_undo_takes_back_only_what_the_person_saw_and_once(browser, folder):
    post(browser, about("Miller"))
    says = browser.get().json["undo_says"]
    post(browser, {"id": str(uuid.uuid4()), "do": "mark", "wall": WALL, "mark": box(50, 48)})
    late = {"id": str(uuid.uuid4()), "do": "undo", "seen": says}
    assert post(browser, late)[0]["clash"]["now"] == browser.get().json["undo_says"] != says
    sure = {"id": str(uuid.uuid4()), "do": "undo", "seen": browser.get().json["undo_says"]}
    assert all(r["ok"] for r in post(browser, sure, sure))
    assert folder.load().customer == "Miller"
    assert not folder.load().wall(WALL).marks


CHANGER = """
import sys; from pathlib import Path; from wainscribe import actions; from wainscribe.folder import JobFolder
for n in range(12): actions.set_about(JobFolder(Path(sys.argv[1])), {sys.argv[2]: str(n)})
"""


def test_two_processes_lose_nothing_of_each_other_and_all_can_be_undone(job):
    keys = ("customer", "address")
    works = [subprocess.Popen([sys.executable, "-c", CHANGER, str(job), key], cwd=ROOT) for key in keys]
    assert [work.wait(120) for work in works] == [0, 0]
    folder = JobFolder(job)
    assert (folder.load().customer, folder.load().address) == ("11", "11")
    for _ in range(24):
        folder.undo()
    assert (folder.load().customer, folder.load().address) == ("", "")
    for _ in range(24):
        JobFolder(job).redo()
    assert (folder.load().customer, folder.load().address) == ("11", "11")


def test_who_waits_for_news_hears_of_them(browser, folder):
    revision = browser.get().json["revision"]
    heard = []
    waiting = Thread(target=lambda: heard.append(Browser(folder.path).get(f"/since/{revision}").json["revision"]))
    waiting.start()
    actions.set_about(JobFolder(folder.path), {"customer": "Miller"})  # by another program
    waiting.join(60)
    assert heard == [browser.get().json["revision"]] != [revision]
    assert browser.get(f"/since/{revision}").json["revision"] == heard[0]  # at once, as it is newer already


def test_nothing_acknowledged_is_lost_when_the_desk_is_killed(job):
    rng = random.Random(0)
    for _ in range(4):
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        words = ["desk", str(job), "--port", str(port), "--no-browser"]
        work = subprocess.Popen([sys.executable, "-c", "from wainscribe.cli import main; main()", *words], cwd=ROOT,
                                stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # fmt: skip
        acknowledged = []
        writing = Thread(target=_write, args=(f"http://127.0.0.1:{port}", work, acknowledged))
        writing.start()
        end = time.monotonic() + 60
        while len(acknowledged) < 10 + rng.randrange(10) and time.monotonic() < end:
            time.sleep(rng.random() / 20)
        work.kill()
        work.wait()
        writing.join(60)
        now = JobFolder(job).load()
        assert len(acknowledged) >= 10
        assert {name for name, _ in acknowledged} <= {wall.name for wall in now.walls}
        assert all(JobFolder(job).answer(sent) is not None for _, sent in acknowledged)


def _write(base, work, acknowledged):
    """Add walls one after another until the desk is gone."""
    token = None
    while work.poll() is None:
        try:
            if token is None:
                page = urllib.request.urlopen(f"{base}/job/job", timeout=10).read().decode()
                token = re.search(r'name="desk-token" content="([^"]+)"', page)[1]
            sent = str(uuid.uuid4())
            change = {"id": sent, "do": "new-wall", "name": f"wall {sent[:8]}"}
            request = urllib.request.Request(
                f"{base}/api/jobs/job/changes", json.dumps({"changes": [change]}).encode(),
                {"X-Desk-Token": token, "Content-Type": "application/json"},
            )  # fmt: skip
            if json.load(urllib.request.urlopen(request, timeout=10))["results"][0].get("ok"):
                acknowledged.append((change["name"], sent))
        except (OSError, HTTPException, ValueError):
            time.sleep(0.02)


@pytest.mark.parametrize("seed", range(4))
def test_a_warm_answer_is_a_fresh_one(seed, tmp_path):
    """Random changes of the demo job, each solved warm and afresh: first the wall at hand alone, then all."""
    folder = JobFolder(shutil.copytree(truth.DEMO, tmp_path / "demo"))
    rng, warm = np.random.default_rng(seed), Warm(folder, Opened())
    for _ in range(5):
        job = folder.load()
        wall = job.walls[int(rng.integers(len(job.walls)))]
        _change_at_random(folder, wall, rng)
        now = folder.load()
        fresh, anew = actions.plan_job(folder, now)
        _, at_hand, part = warm.at_hand(wall.name)
        assert [w.name for w in part.walls] == [wall.name]
        _same([at_hand], [one for one in fresh if one.wall.name == wall.name])
        assert _verdicts(part) == [_verdicts(anew)[job.walls.index(wall)]]
        job, solved, plan = warm.planned()
        assert job == now
        _same(solved, fresh)
        assert _verdicts(plan) == _verdicts(anew)


def _same(warm, fresh):
    """Every edge where a fresh solve has it, to a millionth of an inch."""
    for one, other in zip(warm, fresh, strict=True):
        for mine, theirs in zip(one.measured.survey.features, other.measured.survey.features, strict=True):
            for edge in ("left", "right", "bottom", "top"):
                a, b = getattr(mine, edge), getattr(theirs, edge)
                assert (a is None) == (b is None)
                assert a is None or max(abs(a.value - b.value), abs(a.sd - b.sd)) <= 1e-6, (mine.name, edge, a, b)


def _verdicts(plan):
    return [[(j.feature, j.verdict) for j in wall.judgements] for wall in plan.walls]


def _change_at_random(folder, wall, rng):
    match rng.integers(4):
        case 0 | 1 if wall.marks:
            mark = wall.marks[int(rng.integers(len(wall.marks)))]
            sights = tuple(
                s.model_copy(update={"u": s.u + rng.normal(0, 2), "v": s.v + rng.normal(0, 2)}) for s in mark.sights
            )
            actions.add_mark(folder, wall.name, mark.model_copy(update={"sights": sights}))
        case 2:
            folder.undo() if folder.would_undo() else None
        case _:
            actions.set_about(folder, {"customer": str(rng.integers(1000))})


@pytest.fixture
def two_rooms(tmp_path):
    """A job of two rooms by tape alone."""
    folder = actions.new_job(tmp_path / "two", "Two rooms")
    for name, room in (("north", "hall"), ("south", "hall"), ("east", "study")):
        actions.set_wall(folder, name, room, {"width": Fraction(120)})
    return folder


def test_the_plan_of_the_wall_at_hand_comes_without_the_others_and_names_them(two_rooms):
    browser = Browser(two_rooms.path, "two")
    whole, part = browser.get("/plan").json, browser.get("/plan?wall=south").json
    assert [wall["name"] for wall in part["walls"]] == ["south"]
    assert part["rest"] == ["north", "east"]
    assert (whole["rest"], [wall["name"] for wall in whole["walls"]]) == ([], ["north", "south", "east"])
    assert part["walls"] == [whole["walls"][1]]
    assert browser.get("/plan?wall=nowhere").status_code == 404


def test_the_plan_of_the_house_is_of_the_job_as_it_stands_when_it_is_done(two_rooms, monkeypatch):
    """A change while rooms are planned begins it anew: no answer is put together from two states of the job."""
    warm, plan = Warm(two_rooms, Opened()), actions.plan_solved
    planned = []

    def planning(job, solved, **given):
        if not planned:
            actions.set_wall(two_rooms, "north", None, {"width": Fraction(100)})
        planned.append([one.wall.name for one in solved])
        return plan(job, solved, **given)

    monkeypatch.setattr(actions, "plan_solved", planning)
    job, solved, found = warm.planned()
    assert job == two_rooms.load()
    assert [float(wall.survey.width.value) for wall in found.walls] == [100, 120, 120]
    assert [one.wall.width for one in solved] == [100, 120, 120]
    assert planned == [["north", "south"], ["north", "south"], ["east"]]


# While a solve takes long.


@pytest.fixture
def slow(job, monkeypatch):
    with slow_desk(job, monkeypatch) as desk:
        yield desk


def asked(desk, path, times=1):
    """Pages that ask, each in a thread of its own; the list of their answers as they come."""
    answers: list = []
    threads = [Thread(target=lambda: answers.append(desk.ask(path))) for _ in range(times)]
    for thread in threads:
        thread.start()
    return answers


def test_a_change_is_taken_and_cards_are_shown_while_six_pages_wait_for_a_solve(slow, folder):
    answers = asked(slow, f"/walls/{WALL}/measured", times=6)
    eventually(lambda: (len(slow.begun), len(slow.begun) and slow.warm._turns.waiting), (1, 5))
    change = {"id": str(uuid.uuid4()), "do": "wall", "name": WALL, "width": "119"}
    assert slow.ask("/changes", {"changes": [change]})["results"][0]["ok"]
    shown = slow.ask(f"/walls/{WALL}/photos/wall.jpg/cards")
    assert {card["number"] for card in shown["cards"]} == set(PLACED)
    assert answers == []  # all the while
    slow.go.set()
    eventually(lambda: len(answers), 6)
    # What was changed meanwhile was never solved as it was: it was given up, and begun anew once for all.
    assert [job.wall(WALL).width for job in slow.begun] == [120, 119]
    assert all(answer == answers[0] for answer in answers)


def test_who_leaves_the_page_waits_no_more(slow):
    asked(slow, f"/walls/{WALL}/measured")
    eventually(lambda: len(slow.begun), 1)
    with socket.create_connection(("127.0.0.1", slow.server.effective_port)) as page:
        page.sendall(f"GET /api/jobs/job/walls/{quote(WALL)}/measured HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode())
        eventually(lambda: slow.warm._turns.waiting, 1)
    eventually(lambda: slow.warm._turns.waiting, 0)
    assert not slow.go.is_set()


def test_a_solve_of_what_was_changed_meanwhile_is_given_up_between_walls(two_rooms, monkeypatch):
    warm, alone = Warm(two_rooms, Opened()), measure._alone
    solved = []

    def solving(wall, *given):
        if not solved:
            actions.set_wall(two_rooms, "north", None, {"width": Fraction(100)})
        solved.append((wall.name, wall.width))
        return alone(wall, *given)

    monkeypatch.setattr(measure, "_alone", solving)
    _, wall = warm.wall("south")
    assert wall.wall.name == "south"
    assert solved == [("north", 120), ("north", 100), ("south", 120), ("east", 120)]


def test_the_solve_of_one_wall_is_given_up_at_its_next_step(two_rooms, monkeypatch):
    warm, ask, given_up = Warm(two_rooms, Opened()), adjust.still_wanted, []

    def changed_meanwhile():
        if not given_up:
            actions.set_wall(two_rooms, "north", None, {"width": Fraction(100)})
        try:
            ask()
        except Replaced:
            given_up.append(1)
            raise

    monkeypatch.setattr(adjust, "still_wanted", changed_meanwhile)
    assert warm.wall("north")[1].wall.width == 100
    assert given_up == [1]


def test_what_is_kept_of_a_planned_house_holds_up_no_collection(two_rooms):
    warm = Warm(two_rooms, Opened())
    warm.planned()
    assert all(one is not warm._known for one in gc.get_objects())  # which lists all but what collections pass over
    gc.unfreeze()


def test_who_waits_for_news_reads_the_job_only_when_it_was_written(browser, folder, monkeypatch):
    revision, state, read = browser.get().json["revision"], JobFolder.state, []
    monkeypatch.setattr(api, "PATIENCE", 1.0)  # five looks
    monkeypatch.setattr(JobFolder, "state", lambda folder: read.append(1) or state(folder))
    assert browser.get(f"/since/{revision}").json["revision"] == revision
    assert len(read) == 1
    folder.file.write_text(folder.file.read_text().replace(WALL, "other wall"))  # by hand, in place
    assert browser.get(f"/since/{revision}").json["revision"] != revision
    assert len(read) == 2


def test_who_looks_at_one_wall_goes_before_who_asks_for_all():
    turns, order = Turns(), []

    def work(turn, name):
        with turn():
            order.append(name)

    with turns.first():
        threads = [Thread(target=work, args=(turns.later, "all")), Thread(target=work, args=(turns.first, "one"))]
        for thread in threads:
            thread.start()
        end = time.monotonic() + 60
        while not turns.waiting and time.monotonic() < end:
            time.sleep(0.01)
    for thread in threads:
        thread.join(60)
    assert order == ["one", "all"]
