"""Who may come in, and what leaves: the guard of the desk, one rule to a test.

The rules are those of the OWASP cheat sheets (session management, cross-site request forgery, file upload, error
handling), RFC 6265bis (cookies), the Fetch standard (nosniff) and Content Security Policy Level 3, from memory.
"""

import io
import json
import logging
import re
import uuid

import numpy as np
import pytest
from PIL import Image

from capture.record import Photo
from tests.conftest import WALL
from wainscribe.desk import guard as guard_module
from wainscribe.desk import serve as serving
from wainscribe.desk.api import MOST_AT_ONCE, MOST_PHOTO_BYTES, MOST_PHOTOS
from wainscribe.desk.app import MOST_BYTES, MOST_FIELD, MOST_PARTS, MOST_WAITING, create_app, the_desk
from wainscribe.desk.guard import (
    COOKIE,
    KEY_LIFE,
    SESSION_LIFE,
    TRIES,
    TRIES_OF_ALL,
    Guard,
    is_own_name,
    is_this_machine,
)
from wainscribe.desk.turns import MOST_WORKING
from wainscribe.folder import JobFolder

FAR = {"REMOTE_ADDR": "192.0.2.7"}  # RFC 5737: an address of nobody
GUESS = "AAAAA-AAAAA"


class Clock:
    def __init__(self) -> None:
        self.now = 1_000_000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def guard(clock):
    return Guard(clock=clock)


@pytest.fixture
def app(job, guard):
    return create_app(job, guard)


@pytest.fixture
def here(app):
    """A browser on the laptop."""
    return app.test_client()


def far(app, address="192.0.2.7"):
    """A browser on another machine."""
    client = app.test_client()
    client.environ_base["REMOTE_ADDR"] = address
    return client


def token_of(page) -> str:
    return re.search(r'name="desk-token" content="([^"]+)"', page.text)[1]


def come_in(client, key):
    """The key used; the token of the pages that follow."""
    assert client.get(f"/key/{key}").status_code == 200
    return token_of(client.get("/job/job"))


def tokened(client) -> dict[str, str]:
    return {"X-Desk-Token": token_of(client.get("/job/job"))}


def fact(address="1 Main Street"):
    return {"changes": [{"id": str(uuid.uuid4()), "do": "about", "facts": {"address": address}}]}


PATHS = [
    "/",
    "/job/job",
    "/job/job/wall/x",
    "/job/job/plan",
    "/job/job/papers",
    "/phone",
    "/job/job/papers/a.pdf",
    "/api/jobs",
    "/api/jobs/job",
    "/api/jobs/job/plan",
    "/api/jobs/job/next",
    "/api/jobs/job/papers",
    "/api/jobs/job/since/0",
    f"/api/jobs/job/walls/{WALL}/measured",
    f"/api/jobs/job/walls/{WALL}/elevation.jpg",
    f"/api/jobs/job/walls/{WALL}/photos/wall.jpg.jpg",
    "/api/tasks/x",
]


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize(
    "told", [{}, {"X-Forwarded-For": "127.0.0.1", "Forwarded": "for=127.0.0.1", "X-Real-IP": "::1"}]
)
def test_another_machine_sees_nothing_without_a_key(app, path, told):
    answer = far(app).get(path, headers=told)
    assert answer.status_code == 401 if path.startswith("/api/") else answer.location == "/key"
    assert b"the job" not in answer.data
    assert WALL.encode() not in answer.data


THE_DOOR = {"pages.enter_key", "pages.use_key", "pages.worker", "static"}  # all that a stranger sees


def test_every_address_of_the_desk_but_the_door_wants_the_key(app):
    for rule in app.url_map.iter_rules():
        if rule.endpoint in THE_DOOR:
            continue
        path = re.sub(r"<int:\w+>", "0", rule.rule)
        path = re.sub(r"<[^>]+>", "job", path)
        for method in rule.methods - {"OPTIONS", "HEAD"}:
            answer = far(app).open(path, method=method)
            assert answer.status_code in (401, 403) or answer.location == "/key", (method, path)


def test_this_machine_needs_no_key_and_only_its_own_address_counts(here):
    assert here.get("/api/jobs").status_code == 200
    assert all(map(is_this_machine, ["127.0.0.1", "127.8.9.1", "::1", "::ffff:127.0.0.1"]))
    assert not any(
        map(is_this_machine, ["192.168.1.4", "::ffff:192.168.1.4", "fe80::1", "", None, "localhost", "0.0.0.0"])
    )


def test_a_key_opens_the_door_once(app, guard):
    key, phone = guard.new_key(), far(app)
    come_in(phone, key)
    assert phone.get("/api/jobs").status_code == 200
    assert far(app).get(f"/key/{key}").status_code == 403


def test_a_key_is_used_by_one_of_two_at_the_same_time(guard):
    from concurrent.futures import ThreadPoolExecutor

    from werkzeug.exceptions import Forbidden

    key = guard.new_key()

    def one(n):
        try:
            return guard.exchange(key, f"192.0.2.{n}")
        except Forbidden:
            return None

    with ThreadPoolExecutor(8) as pool:
        assert sum(found is not None for found in pool.map(one, range(8))) == 1


def test_a_key_grows_old(app, guard, clock):
    key = guard.new_key()
    clock.now += KEY_LIFE + 1
    assert far(app).get(f"/key/{key}").status_code == 403


def test_a_session_grows_old(app, guard, clock):
    phone = far(app)
    come_in(phone, guard.new_key())
    clock.now += SESSION_LIFE - 1
    assert phone.get("/api/jobs").status_code == 200
    clock.now += 2
    assert phone.get("/api/jobs").status_code == 401


def test_a_key_typed_by_hand_opens_too(app, guard):
    key, phone = guard.new_key(), far(app)
    token = re.search(r'name="token"[^>]*value="([^"]+)"', phone.get("/key").text)[1]
    assert phone.post("/key", data={"key": f"{key[:5]}-{key[5:].lower()} ", "token": token}).status_code == 200
    assert phone.get("/api/jobs").status_code == 200
    assert (
        far(app).post("/key", data={"key": guard.new_key()}).status_code == 403
    )  # a form of another site has no token


def test_looking_ahead_does_not_spend_a_key(app, guard):
    key = guard.new_key()
    assert far(app).get(f"/key/{key}", headers={"Sec-Purpose": "prefetch"}).status_code == 204
    assert far(app).head(f"/key/{key}").status_code == 204
    assert far(app).get(f"/key/{key}").status_code == 200


def test_guessing_is_slowed_down_for_one_and_for_all(app, guard, clock):
    phone = far(app)
    assert [phone.get(f"/key/{GUESS}").status_code for _ in range(TRIES + 1)] == [403] * TRIES + [429]
    key = guard.new_key()
    assert phone.get(f"/key/{key}").status_code == 429  # the right key is no better now
    for n in range(TRIES_OF_ALL - TRIES):
        assert far(app, f"192.0.2.{100 + n}").get(f"/key/{GUESS}").status_code == 403
    refused = far(app, "192.0.2.99").get(f"/key/{key}")
    assert refused.status_code == 429
    assert refused.headers["Retry-After"] == "60"
    clock.now += 61
    assert phone.get(f"/key/{key}").status_code == 200


def test_secrets_are_compared_in_constant_time(app, guard, monkeypatch):
    compared = []
    real = guard_module.hmac.compare_digest
    monkeypatch.setattr(guard_module.hmac, "compare_digest", lambda a, b: compared.append((a, b)) or real(a, b))
    guard.new_key()
    key, phone = guard.new_key(), far(app)
    token = come_in(phone, key)
    assert len(compared) >= 2 + 1
    assert any(a == b for a, b in compared)
    compared.clear()
    phone.post("/api/jobs/job/changes", json=fact(), headers={"X-Desk-Token": token})
    assert (token.encode(), token.encode()) in compared


def test_the_cookie_is_for_this_site_alone_and_no_script_reads_it(app, guard):
    answer = far(app).get(f"/key/{guard.new_key()}")
    cookie = answer.headers["Set-Cookie"]
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(cookie.split("; "))
    assert answer.headers["Cache-Control"] == "no-store"


def test_a_session_outlives_a_restart_and_only_digests_are_kept(job, tmp_path):
    store = tmp_path / "desk.json"
    app = create_app(job, first := Guard(store))
    phone, key = far(app), first.new_key()
    come_in(phone, key)
    session = phone.get_cookie(COOKIE).value
    kept = store.read_text()
    assert session not in kept
    assert key not in kept
    assert store.stat().st_mode & 0o077 == 0
    again = far(create_app(job, Guard(store)))
    again.set_cookie(COOKIE, session)
    assert again.get("/api/jobs").status_code == 200
    again.set_cookie(COOKIE, session[:-1] + ("A" if session[-1] != "A" else "B"))
    assert again.get("/api/jobs").status_code == 401


@pytest.mark.parametrize("token", [None, "", "0" * 32, "é"])
def test_a_change_without_the_page_s_token_changes_nothing(here, folder, token):
    before = folder.file.read_bytes()
    headers = {} if token is None else {"X-Desk-Token": token.encode().decode("latin-1")}
    assert here.post("/api/jobs/job/changes", json=fact(), headers=headers).status_code == 403
    assert here.post("/api/jobs/job/undo", json={}, headers=headers).status_code == 403
    assert here.post("/api/jobs/job/papers", headers=headers).status_code == 403
    assert folder.file.read_bytes() == before
    assert here.post("/api/jobs/job/changes", json=fact(), headers=tokened(here)).status_code == 200


def test_the_token_of_one_session_is_none_of_another_s(app, guard, here):
    first, second = far(app), far(app)
    one, two = come_in(first, guard.new_key()), come_in(second, guard.new_key())
    assert len({one, two, tokened(here)["X-Desk-Token"]}) == 3
    assert first.post("/api/jobs/job/changes", json=fact(), headers={"X-Desk-Token": two}).status_code == 403
    assert first.post("/api/jobs/job/changes", json=fact(), headers={"X-Desk-Token": one}).status_code == 200


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://localhost", "http://localhost:9", ""])
def test_a_page_of_another_site_changes_nothing(here, folder, origin):
    before = folder.file.read_bytes()
    headers = tokened(here)
    assert here.post("/api/jobs/job/changes", json=fact(), headers={**headers, "Origin": origin}).status_code == 403
    assert folder.file.read_bytes() == before
    own = {**headers, "Origin": "http://localhost"}
    assert here.post("/api/jobs/job/changes", json=fact(), headers=own).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:8610",
        "192.0.2.1",
        "127.0.0.1.evil.example",
        "localhost.evil.example",
        "0.0.0.0",
        "[::]:80",
        "localhost@evil.example",
    ],
)
def test_a_name_that_another_site_points_here_is_refused(here, host):
    answer = here.get("/api/jobs", headers={"Host": host})
    assert answer.status_code in (400, 403)
    assert b"the job" not in answer.data
    assert here.get("/api/jobs", headers={"Host": "127.0.0.1:8610"}).status_code == 200
    assert is_own_name("localhost")
    assert is_own_name("127.0.0.1")


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/job/job",
        "/key",
        "/nothing",
        "/api/jobs",
        "/api/nothing",
        "/service-worker.js",
        f"/api/jobs/job/walls/{WALL}/photos/wall.jpg.jpg?width=240",
    ],
)
def test_every_answer_tells_the_browser_to_be_careful(here, path):
    answer = here.get(path)
    headers = answer.headers
    answer.close()
    policy = dict(rule.strip().split(" ", 1) for rule in headers["Content-Security-Policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == "'self'"
    assert policy["frame-ancestors"] == policy["base-uri"] == "'none'"
    assert policy["form-action"] == "'self'"
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "no-referrer"
    assert headers["X-Frame-Options"] == "DENY"  # for browsers that know no frame-ancestors
    assert headers["Cross-Origin-Opener-Policy"] == headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert {"geolocation=()", "microphone=()"} <= set(headers["Permissions-Policy"].split(", "))
    assert "Server" not in headers
    if path.startswith("/api/") and not path.endswith("240"):
        assert headers["Cache-Control"] == "no-store"
    assert "Access-Control-Allow-Origin" not in headers


@pytest.mark.parametrize(
    "path", ["/job/job", f"/job/job/wall/{WALL}", "/job/job/plan", "/job/job/papers", "/phone", "/key", "/nothing"]
)
def test_no_page_holds_script_or_style_of_its_own(app, path):
    app.extensions["desk"].addresses = ("http://192.0.2.1:8610",)
    page = app.test_client().get(path).text
    assert not re.search(r"<style|\sstyle=|\son\w+=|javascript:", page)
    assert all("src=" in tag for tag in re.findall(r"<script[^>]*>", page))


def test_a_paper_is_kept_by_no_browser(here, folder):
    papers = folder.path / "papers"
    papers.mkdir()
    (papers / "site-report.pdf").write_bytes(b"%PDF-1.7")
    with here.get("/job/job/papers/site-report.pdf") as answer:
        assert (answer.status_code, answer.data) == (200, b"%PDF-1.7")
        assert answer.headers["Cache-Control"] == "no-store"


def send(client, wall, data, name="a.jpg", sent=None):
    form = {"id": sent or str(uuid.uuid4()), "file": (io.BytesIO(data), name)}
    return client.post(f"/api/jobs/job/walls/{wall}/photos", data=form, headers=tokened(client))


def unchanged(folder: JobFolder) -> tuple:
    """What must be the same after a refusal."""
    return folder.file.read_bytes(), sorted(folder.photos.iterdir())


def test_a_post_has_a_limit_in_bytes_and_in_changes(here, folder):
    headers, before = tokened(here), unchanged(folder)
    big = json.dumps(fact("x" * MOST_BYTES))
    sent = here.post("/api/jobs/job/changes", data=big, headers=headers, content_type="application/json")
    assert sent.status_code == 413
    many = {"changes": fact()["changes"] * (MOST_AT_ONCE + 1)}
    assert here.post("/api/jobs/job/changes", json=many, headers=headers).status_code == 400
    assert MOST_BYTES <= 1_000_000
    assert MOST_AT_ONCE <= 200
    assert unchanged(folder) == before


def test_a_form_has_a_limit_in_fields_and_in_the_bytes_of_one(here):
    url, headers = f"/api/jobs/job/walls/{WALL}/photos", tokened(here)
    long = {"caption": "x" * (MOST_FIELD + 1)}
    many = {f"field {n}": "x" for n in range(MOST_PARTS + 1)}
    for form in (long, many):
        assert here.post(url, data=form, headers=headers, content_type="multipart/form-data").status_code == 413
    assert MOST_FIELD <= 100_000
    assert MOST_PARTS <= 20


def test_a_photo_has_a_limit_in_bytes(here, folder):
    before = unchanged(folder)
    assert MOST_PHOTO_BYTES <= 60_000_000
    url, form = f"/api/jobs/job/walls/{WALL}/photos", "multipart/form-data; boundary=b"
    head = b'--b\r\nContent-Disposition: form-data; name="file"; filename="a.jpg"\r\n\r\n'  # RFC 7578
    data = head + bytes(MOST_PHOTO_BYTES) + b"\r\n--b--\r\n"
    sent = here.post(url, data=data, content_type=form, headers=tokened(here))
    assert sent.status_code == 413
    assert unchanged(folder) == before


def test_a_photo_has_a_limit_in_pixels_and_must_be_one(here, folder):
    before = unchanged(folder)
    bomb = io.BytesIO()
    Image.fromarray(np.zeros((12_000, 12_000), np.uint8)).save(bomb, "PNG")  # 144 MP of 140 kB
    for data in (bomb.getvalue(), b"", b"\xff\xd8no photo", b"<svg xmlns='http://www.w3.org/2000/svg'/>"):
        answer = send(here, WALL, data)
        assert answer.status_code == 400
        assert answer.json["error"]
    assert unchanged(folder) == before


def test_a_wall_has_a_limit_in_photos(here, folder, wall_photo):
    with folder.changing() as change:
        wall = change.job.wall(WALL)
        more = [Photo(name=f"{n}.jpg", file=wall.photos[0].file) for n in range(MOST_PHOTOS - len(wall.photos))]
        change.job = change.job.with_wall(wall.model_copy(update={"photos": (*wall.photos, *more)}))
    before = unchanged(folder)
    answer = send(here, WALL, wall_photo.read_bytes())
    assert answer.status_code == 400
    assert str(MOST_PHOTOS) in answer.json["error"]
    assert unchanged(folder) == before
    assert MOST_PHOTOS <= 60


def test_those_who_wait_for_news_are_few(app, here):
    """Each takes a thread; what is left of the threads answers the others."""
    with app.app_context():
        waiting = the_desk().waiting
    for _ in range(MOST_WAITING):
        assert waiting.acquire(blocking=False)
    assert here.get("/api/jobs/job/since/0").status_code == 503


def test_those_who_wait_for_a_solve_are_few(app, here):
    """Likewise, and both together leave some threads for what is answered at once: changes above all."""
    with app.app_context():
        working = the_desk().working
    assert here.get("/api/jobs/job/walls/long wall/measured").status_code == 200
    for _ in range(MOST_WORKING):
        assert working.acquire(blocking=False)
    assert here.get("/api/jobs/job/walls/long wall/measured").status_code == 503
    assert here.get("/api/jobs/job/plan").status_code == 503
    assert here.get("/api/jobs/job/walls/long wall/photos/wall.jpg/cards").status_code == 200
    assert MOST_WAITING + MOST_WORKING < serving.THREADS


class Stopped(Exception):
    """Instead of serving for ever."""


def test_the_server_in_front_takes_no_more_names_nobody_and_tells_no_peer(job, monkeypatch):
    told, asked = [], {}

    def create_server(app, **how):
        asked.update(how)
        raise Stopped

    monkeypatch.setattr(serving.waitress, "create_server", create_server)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(job.parent))
    logging.getLogger("waitress").setLevel(logging.NOTSET)
    with pytest.raises(Stopped):
        serving.serve(job, 8610, browser=False, tell=told.append)
    assert asked["max_request_body_size"] <= MOST_PHOTO_BYTES + 1_000_000
    assert asked["ident"] is None  # no Server header
    assert not logging.getLogger("waitress").isEnabledFor(logging.WARNING)


@pytest.mark.parametrize(
    "name",
    [
        "../../job.json",
        "..\\..\\job.json",
        "/etc/passwd",
        "a\0b.jpg",
        "CON.jpg",
        ".hidden",
        "x" * 300 + ".jpg",
        "<img src=x onerror=alert(1)>.jpg",
        "wall.jpg.exe",
        "\u202egpj.exe",
    ],
)
def test_a_hostile_file_name_stays_a_name(here, folder, photos, name):
    before = {p for p in folder.path.parent.rglob("*") if "measured" not in p.parts}
    answer = send(here, WALL, photos["no card"].read_bytes(), name)
    assert answer.status_code == 200
    new = {p for p in folder.path.parent.rglob("*") if "measured" not in p.parts} - before
    kept = [p for p in new if p.parent == folder.photos]
    assert len(kept) == 1
    assert re.fullmatch(r"[A-Za-z0-9_-]{1,70}(\.[a-z0-9]{1,5})?", kept[0].name)
    assert not kept[0].name.startswith("CON.")
    assert all(p in kept or p.parent == folder.path or "history" in p.parts for p in new)
    assert not re.search(r"[\x00-\x1f\x7f-\x9f]", answer.json["photo"])
    assert len(answer.json["photo"]) <= 80


@pytest.mark.parametrize(
    "path",
    [
        "/api/jobs/..",
        "/api/jobs/%2e%2e",
        "/api/jobs/..%2f..%2fetc",
        "/job/%2fetc%2fpasswd",
        "/api/jobs/job/walls/%2e%2e/photos/job.json.jpg",
        "/job/job/papers/..%2fjob.json",
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/api/jobs/job/walls/x/photos/a%00.jpg",
    ],
)
def test_no_address_leads_out_of_the_folder(here, path):
    assert here.get(path).status_code in (308, 404)


def test_a_fault_of_the_desk_tells_nobody_more_than_that(here, app, folder, monkeypatch, capsys):
    def fault(*_):
        raise RuntimeError(f"secret street 7 in {folder.path}")

    monkeypatch.setattr("wainscribe.desk.missing._missing", fault)
    answer = here.get(f"/api/jobs/job/walls/{WALL}/measured")
    assert answer.status_code == 500
    assert set(answer.json) == {"error"}
    said = capsys.readouterr()
    for text in (answer.text, said.out + said.err):
        assert "secret street" not in text
        assert str(folder.path.parent) not in text
        assert "Traceback" not in text
    assert "RuntimeError in fault" in said.err  # enough to find it by


def test_a_fault_while_papers_are_made_tells_nobody_more_either(here, folder, monkeypatch, capsys):
    def fault(*_):
        raise RuntimeError(f"secret street 7 in {folder.path}")

    monkeypatch.setattr("wainscribe.desk.api.make_papers", fault)
    task = here.post("/api/jobs/job/papers", headers=tokened(here)).json["task"]
    while not (state := here.get(f"/api/tasks/{task}").json)["done"]:
        pass
    assert "Something went wrong" in state["failed"]
    said = capsys.readouterr()
    for text in (str(state), said.out, said.err):
        assert "secret street" not in text
        assert str(folder.path.parent) not in text


def test_an_error_names_no_folder_of_this_machine(here, folder):
    (folder.photos / JobFolder(folder.path).load().wall(WALL).photos[0].file).unlink()
    answer = here.get(f"/api/jobs/job/walls/{WALL}/measured")
    assert answer.status_code == 400
    assert "missing" in answer.json["error"]
    assert str(folder.path.parent) not in answer.text
    folder.file.write_text("{")
    for path in ("/api/jobs", "/api/jobs/job", "/job/job"):
        assert str(folder.path.parent) not in here.get(path).text


def test_nothing_is_logged_of_keys_sessions_and_names(app, guard, capsys, caplog):
    phone, key = far(app), guard.new_key()
    with caplog.at_level(0):
        token = come_in(phone, key)
        phone.post("/api/jobs/job/changes", json=fact("7 Elm"), headers={"X-Desk-Token": token})
        phone.get("/api/jobs/no-such-job")
        far(app).get(f"/key/{GUESS}")
    said = capsys.readouterr()
    logged = said.out + said.err + caplog.text
    secrets = (key, token, phone.get_cookie(COOKIE).value, "7 Elm", GUESS, WALL)
    assert not any(secret in logged for secret in secrets)


def test_keys_are_shown_to_this_machine_alone(app, guard, here):
    phone = far(app)
    come_in(phone, guard.new_key())
    assert phone.get("/phone").status_code == 403
    with app.app_context():
        the_desk().addresses = ("http://192.0.2.1:8610",)
    page = here.get("/phone").text
    shown = re.search(r"\b([A-Z2-9]{5})-([A-Z2-9]{5})\b", page)
    assert far(app).get(f"/key/{shown[1]}{shown[2]}").status_code == 200
