"""The desk as one application: its jobs, its guard, what is kept warm, and every page and answer."""

import sys
import traceback
from dataclasses import dataclass, field
from pathlib import Path
from threading import BoundedSemaphore, Lock

from flask import Flask, Response, current_app, jsonify, render_template, request
from flask.json.provider import DefaultJSONProvider
from werkzeug.exceptions import HTTPException

from capture.errors import PlainError, UnknownNameError
from wainscribe.desk.guard import Guard, put_up
from wainscribe.desk.home import Home
from wainscribe.desk.pictures import Opened
from wainscribe.desk.tasks import Tasks
from wainscribe.desk.turns import MOST_WORKING
from wainscribe.desk.warm import Warm
from wainscribe.folder import JobFolder

MOST_BYTES = 1_000_000  # of a post that is no photo
MOST_FIELD, MOST_PARTS = 100_000, 20  # of a form: bytes of a field that is no file, and fields
MOST_WAITING = 12  # who may wait for news at a time: each takes a thread


@dataclass
class Desk:
    """What one running desk knows."""

    home: Home
    guard: Guard
    addresses: tuple[str, ...] = ()  # where a phone can reach it
    opened: Opened = field(default_factory=Opened)
    tasks: Tasks = field(default_factory=Tasks)
    waiting: BoundedSemaphore = field(default_factory=lambda: BoundedSemaphore(MOST_WAITING))
    working: BoundedSemaphore = field(default_factory=lambda: BoundedSemaphore(MOST_WORKING))
    _warm: dict[Path, Warm] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def warm(self, folder: JobFolder) -> Warm:
        """What is kept warm of a job."""
        with self._lock:
            if folder.path not in self._warm:
                self._warm[folder.path] = Warm(JobFolder(folder.path), self.opened, self.working)
            return self._warm[folder.path]


def the_desk() -> Desk:
    """The desk of the request that is being answered."""
    desk = current_app.extensions["desk"]
    assert isinstance(desk, Desk)
    return desk


def create_app(place: Path, guard: Guard | None = None, addresses: tuple[str, ...] = ()) -> Flask:
    """Make the application for a job folder, or a folder of jobs.

    Raises
    ------
    PlainError
        There is no such folder.
    """
    from wainscribe.desk import api, pages  # they need the desk

    app = Flask("wainscribe.desk")
    app.config.update(MAX_CONTENT_LENGTH=MOST_BYTES, MAX_FORM_MEMORY_SIZE=MOST_FIELD, MAX_FORM_PARTS=MOST_PARTS)
    assert isinstance(app.json, DefaultJSONProvider)
    app.json.sort_keys = False
    app.extensions["desk"] = Desk(Home.at(place), guard or Guard(), addresses)
    put_up(app, app.extensions["desk"].guard)
    app.register_blueprint(api.api)
    app.register_blueprint(pages.pages)
    app.register_error_handler(Exception, refuse)
    return app


def refuse(error: Exception) -> Response:
    """One sentence and a status, never more: as JSON to a program, as a page to a person."""
    sentence, status, after = _told(error)
    if request.path.startswith("/api/"):
        response = jsonify(error=sentence)
    else:
        response = Response(
            render_template("refused.html", sentence=sentence, token="", job="", job_name="", wall="", local=False),
            mimetype="text/html",
        )
    response.status_code = status
    if after is not None:
        response.headers["Retry-After"] = str(after)
    return response


PLAIN = {
    404: "There is no such page here.",
    405: "That cannot be done here.",
    413: "That is more than this desk takes at once.",
    415: "That is not what this desk reads; load the page again.",
    400: "That could not be read; load the page again.",
}


def _told(error: Exception) -> tuple[str, int, int | None]:
    home = the_desk().home
    if isinstance(error, UnknownNameError):
        return home.without_paths(str(error)), 404, None
    if isinstance(error, PlainError):
        return home.without_paths(str(error)), 400, None
    if isinstance(error, HTTPException):
        status = error.code or 500
        after = getattr(error, "retry_after", None)
        return PLAIN.get(status) or error.description or "That cannot be done.", status, after
    where = traceback.extract_tb(error.__traceback__)[-1]  # without the text of the error, which may hold names
    print(f"wainscribe desk: {type(error).__name__} in {where.name}, line {where.lineno}", file=sys.stderr)
    return "Something went wrong in the desk itself; what was kept stays kept. Try again, or start it anew.", 500, None
