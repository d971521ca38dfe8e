"""What the tests of the pages share: a desk that runs as people run it, and a person at a browser."""

import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Sequence
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path
from threading import Event, Thread
from urllib.parse import quote

import pytest
from playwright.sync_api import Browser, Page, expect
from waitress import create_server, wasyncore

from capture.record import TRAITS, Kind, Shape
from wainscribe import actions
from wainscribe.actions import solve_job
from wainscribe.desk import serve
from wainscribe.desk.warm import Warm
from wainscribe.folder import JobFolder
from wainscribe.job import Job

ROOT = Path(__file__).parent.parent
PHONE = {"width": 360, "height": 740}
LAPTOP = {"width": 1440, "height": 900}
PATIENCE = 30_000  # ms: the machine that runs this may be loaded; no test measures time
CHROMIUM = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]


class Desk:
    """A desk in a process of its own, that can be killed and started anew on the same port."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"
        self.start()

    def start(self) -> None:
        """Start, and wait until it answers."""
        command = "from wainscribe.cli import main; main()"
        words = ["desk", str(self.folder), "--port", str(self.port), "--no-browser"]
        environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "XDG_CONFIG_HOME": str(self.folder / ".config")}
        self.process = subprocess.Popen(
            [sys.executable, "-c", command, *words], cwd=ROOT, env=environment, stderr=subprocess.DEVNULL
        )
        end = time.monotonic() + PATIENCE / 1000
        while True:
            try:
                urllib.request.urlopen(f"{self.url}/service-worker.js", timeout=5).close()
                return
            except OSError:
                assert self.process.poll() is None, "the desk did not start"
                assert time.monotonic() < end, "the desk does not answer"
                time.sleep(0.1)

    def kill(self) -> None:
        """End it as a power cut would."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()


class SlowDesk:
    """A desk in this process, served as always, whose solves wait until they may go on."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.go = Event()
        self.begun: list[Job] = []  # what was solved, in this order
        monkeypatch.setattr(actions, "solve_job", self._solve)
        monkeypatch.setattr(serve.waitress, "create_server", self._create)
        monkeypatch.setenv("XDG_CONFIG_HOME", str(folder.parent / ".config"))
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        self.url = f"http://127.0.0.1:{port}"
        serve.serve(folder, port, browser=False, tell=lambda _: None)

    def _solve(self, folder: JobFolder, job: Job, *given, **more):
        self.begun.append(job)
        self.go.wait(PATIENCE / 1000)
        return solve_job(folder, job, *given, **more)

    def _create(self, app, **how):
        self._open: dict = {}  # the server's sockets and its pipe
        self.server, self.app = create_server(app, self._open, **how), app
        return self

    def run(self) -> None:
        """Serve, as `serve` wants it of a server, but in a thread."""
        self.thread = Thread(target=self.server.run, daemon=True)
        self.thread.start()

    def close(self) -> None:
        """End it, its threads before what they write into.

        One that outlives the pipe by which it wakes the server writes an "x" into whatever file is opened next.
        """
        self.go.set()
        workers = self.server.task_dispatcher
        workers.shutdown(timeout=PATIENCE / 1000)
        assert not workers.threads
        pipe = self.server.trigger
        with pipe.lock:  # the thread that serves takes it before it closes what is written into here
            pipe.thunks.append(lambda: wasyncore.close_all(self._open))
            pipe.pull_trigger()
        self.thread.join(PATIENCE / 1000)
        assert not self.thread.is_alive()

    @property
    def warm(self) -> Warm:
        """What it keeps warm of its one job."""
        [warm] = self.app.extensions["desk"]._warm.values()
        return warm

    def ask(self, path: str, data: object = None):
        """Ask as a page on this machine does; what is answered."""
        page = urllib.request.urlopen(f"{self.url}/", timeout=PATIENCE / 1000).read().decode()
        token = re.search(r'name="desk-token" content="([^"]+)"', page)[1]
        request = urllib.request.Request(
            f"{self.url}/api/jobs/job{quote(path)}", json.dumps(data).encode() if data else None,
            {"X-Desk-Token": token, "Content-Type": "application/json"},
        )  # fmt: skip
        return json.load(urllib.request.urlopen(request, timeout=PATIENCE / 1000))


@contextmanager
def slow_desk(folder: Path, monkeypatch: pytest.MonkeyPatch):
    """A desk over one job whose solves wait."""
    desk = SlowDesk(folder, monkeypatch)
    try:
        yield desk
    finally:
        desk.close()


@contextmanager
def open_desk(folder: Path):
    """A desk over a folder of jobs."""
    desk = Desk(folder)
    try:
        yield desk
    finally:
        desk.kill()


def launch(playwright) -> Browser:
    """Debian's Chromium."""
    executable = shutil.which("chromium")
    assert executable, "Chromium is missing: make test installs it"
    return playwright.chromium.launch(executable_path=executable, args=CHROMIUM)


def context(browser: Browser, size=PHONE, **more):
    """A phone with a touch screen, or a laptop with a mouse."""
    phone = {"has_touch": True, "is_mobile": True, "device_scale_factor": 2} if size == PHONE else {}
    made = browser.new_context(viewport=size, **phone, **more)
    made.set_default_timeout(PATIENCE)
    return made


def eventually(look: Callable[[], object], wanted: object) -> None:
    """What is on the disk becomes what is wanted; asserted, and so shown, if it does not."""
    end = time.monotonic() + PATIENCE / 1000
    while (seen := look()) != wanted and time.monotonic() < end:
        time.sleep(0.05)
    assert seen == wanted


class Person:
    """Somebody at a page, who finds things by what they are called, as a screen reader tells them."""

    def __init__(self, page: Page, touch: bool) -> None:
        self.page, self.touch = page, touch
        self.cdp = None
        self.faults: list[str] = []
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.on("console", lambda line: self._heard(line))

    def _heard(self, line) -> None:
        if line.type == "error" and "Failed to load resource" not in line.text and "ERR_" not in line.text:
            self.faults.append(line.text)

    @property
    def here(self):
        """The sheet that lies on top, or the page."""
        dialogs = self.page.locator("dialog[open]")
        return dialogs.last if dialogs.count() else self.page

    def button(self, name: str, exact: bool = True):
        """A button by its name, or by how its name begins."""
        named = name if exact else re.compile(f"^{re.escape(name)}")
        return self.here.get_by_role("button", name=named, exact=exact)

    def press(self, name: str, exact: bool = True) -> None:
        """Press a button on the sheet on top."""
        self._press(self.button(name, exact))

    def _press(self, what) -> None:
        if self.touch:
            what.tap()
        else:
            what.click()

    def press_any(self, *names: str) -> str:
        """Press whichever of these buttons comes; its name."""
        either = self.button(names[0])
        for name in names[1:]:
            either = either.or_(self.button(name))
        either.first.wait_for()
        name = next(name for name in names if self.button(name).count())
        self.press(name)
        return name

    def follow(self, name: str) -> None:
        """Follow a link."""
        self._press(self.page.get_by_role("link", name=name))

    def all_kept(self) -> None:
        """Wait until the page says that all is on the laptop's disk."""
        expect(self.page.locator("#status")).to_have_text("all kept", timeout=PATIENCE)

    def length(self, inches: Fraction) -> None:
        """A length on the keypad, in inches and sixteenths."""
        whole, part = divmod(inches, 1)
        for digit in str(whole):
            self.press(digit)
        if part:
            self.press(str(part))
        self.press("Keep")

    def new_wall(self, name: str, left: str, right: str, room: str = "") -> None:
        """Add the next wall of a room."""
        self.press_any("First wall", "Next wall")
        if room:
            self.press(room)
        else:
            self._press(self.here.locator("button.main").first)  # the room that one is in
        self._type("Or a name of your own", name)
        self.press("Go on")
        self.press(left)
        self.press(right)
        expect(self.page.get_by_role("heading", name=name, level=1)).to_be_visible()

    def _type(self, label: str, text: str) -> None:
        self.here.get_by_label(label, exact=True).fill(text)

    def photos(self, *files: Path) -> None:
        """Take photos from the gallery, several at once."""
        self.page.get_by_label("Gallery").set_input_files([str(file) for file in files])

    def open_photo(self, name: str) -> None:
        """Open a photo for marking, once it is there."""
        self.press(f"Mark in {name}")
        self.page.locator("dialog.marking[open] .tools button").first.wait_for()

    def begin(self, kind: str) -> None:
        """Begin a mark of a kind."""
        if self.button(f"Another {kind}").count():
            self.press(f"Another {kind}")
            return
        self.press_any("Mark something", "Something else")
        self.press(kind)

    def lies(self) -> tuple[float, float, float]:
        """How the picture lies in the page: CSS px a picture px, and where its upper left corner is."""
        # Two frames later what the last words and buttons did to the layout is done: a thumb is slower than that.
        box, width = self.page.locator("dialog.marking .view img").evaluate(
            """image => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() =>
                 done([image.getBoundingClientRect().toJSON(), image.dataset.width]))))"""
        )
        return box["width"] / float(width), box["x"], box["y"]

    def on_page(self, u: float, v: float) -> tuple[float, float]:
        """Where a pixel of the picture is in the page."""
        scale, left, top = self.lies()
        return left + (u + 0.5) * scale, top + (v + 0.5) * scale

    def tap_pixel(self, u: float, v: float) -> None:
        """Tap a pixel of the photo as it lies in the view."""
        x, y = self.on_page(u, v)
        if self.touch:
            self.page.touchscreen.tap(x, y)
        else:
            self.page.mouse.click(x, y)

    def fingers(self, *paths: Sequence[tuple[float, float]], lift: bool = True) -> None:
        """Fingers put down, moved along their paths together, and lifted: touch events by the browser's protocol."""
        self._send("touchStart", [paths[0][0]])
        if len(paths) > 1:
            self._send("touchStart", [path[0] for path in paths])
        for points in list(zip(*paths, strict=True))[1:]:
            self._send("touchMove", points)
        if lift:
            self.lift()

    def lift(self) -> None:
        """Take all fingers off, and pause as a thumb does: Chromium drops a tap within some 60 ms after a drag."""
        self._send("touchEnd", [])
        self.page.wait_for_timeout(300)

    def double_tap(self, point: tuple[float, float]) -> None:
        """Two taps, 120 ms apart in the events' own time however long this machine takes."""
        start = time.time()
        for after, kind in ((0.0, "touchStart"), (0.04, "touchEnd"), (0.12, "touchStart"), (0.16, "touchEnd")):
            self._send(kind, [point] if kind == "touchStart" else [], timestamp=start + after)

    def _send(self, kind: str, points: Sequence[tuple[float, float]], **more: float) -> None:
        self.cdp = self.cdp or self.page.context.new_cdp_session(self.page)
        touches = [{"x": x, "y": y, "id": finger} for finger, (x, y) in enumerate(points)]
        self.cdp.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": touches, **more})

    def prompt(self):
        """What the bar below the photo says."""
        return self.page.locator("dialog.marking .prompt")

    def asked_to_tap(self):
        """The same once a mark is begun and waits for its next tap."""
        return self.prompt().filter(has_text=re.compile(": tap"))

    def settle_mark(self) -> None:
        """Take the edges that were found, or else the taps; wait until the mark is noted."""
        noted = self.page.locator("dialog.marking .prompt", has_text="is noted")
        use, keep = self.button("Use the edges"), self.page.locator(".tools button.main", has_text="Keep my taps")
        noted.or_(use).or_(keep).first.wait_for()
        if not noted.count():
            self._press(use if use.count() else keep)
        noted.wait_for()

    def leave_marking(self) -> None:
        """Back to the wall."""
        self.press("Back to the wall")

    def cards_found(self) -> None:
        """Wait until the wall's first photo says which cards it shows."""
        self.page.locator(".cards-found").first.wait_for()

    def tape(self, start: str, end: str, inches: Fraction) -> None:
        """A tape reading between two places; a part of a mark is named after it."""
        self.press("Tape")
        self._place(start)
        self._place(end)
        self.length(inches)

    def _place(self, name: str) -> None:
        edges = {"left": "its left edge", "right": "its right edge", "top": "its top", "bottom": "its bottom"}
        mark, _, edge = name.rpartition(" ")
        if edge in edges and mark not in ("", "left", "right") and name not in ("left end", "right end"):
            self.press(mark)
            self.press(edges[edge])
        else:
            self.press(name)
            kind = mark or name
            if kind in set(Kind) and TRAITS[Kind(kind)].shape is Shape.RECTANGLE:
                self.press("its middle")
