"""Each guard of the desk taken out in turn: some test must notice.

By hand: ``python -m tests.guards_out``. Prints each guard with the tests that failed; exits with 1 where none did.
"""

import io
import sys
import traceback
from contextlib import AbstractContextManager, nullcontext, redirect_stderr, redirect_stdout
from pathlib import Path
from unittest.mock import MagicMock, patch

import pytest
from werkzeug.datastructures import Headers
from werkzeug.wrappers import Response

from wainscribe.desk import app, guard, home, pages, pictures, serve
from wainscribe.folder import JobFolder

TESTS = (
    "tests/test_desk_guard.py",
    "tests/test_desk_server.py::test_previews_are_upright_and_tell_neither_place_nor_phone",
    "tests/test_desk_server.py::test_heic_is_taken_and_shown_as_jpeg",
)
PLAINLY = ("-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:unraisableexception")
FAR = 10**12  # no limit

# What takes a guard out stands in its place; where that still needs the real one, it is kept here.
set_cookie, render_template, send_file = Response.set_cookie, pages.render_template, pages.send_file
is_this_machine, told = guard.is_this_machine, app._told


class Unspent(dict[str, float]):
    """Keys that use does not spend."""

    def __delitem__(self, key: str) -> None:
        """Nothing."""


class Stubborn(Headers):
    """Headers that stay."""

    def __delitem__(self, key: object) -> None:
        """Nothing."""


def cookie_without(word: str) -> AbstractContextManager[object]:
    """Cookies set without an attribute."""

    def weaker(self, *given, **more):
        return set_cookie(self, *given, **{key: value for key, value in more.items() if key != word})

    return patch.object(Response, "set_cookie", weaker)


def header(name: str, value: str | None = None) -> AbstractContextManager[object]:
    """A header left out, or weaker."""
    kept = {key: held for key, held in guard.HEADERS.items() if key != name}
    return patch.dict(guard.HEADERS, kept if value is None else {**kept, name: value}, clear=True)


def policy(rule: str, weaker: str) -> AbstractContextManager[object]:
    """One rule of the content policy, weaker."""
    assert rule in guard.POLICY
    return header("Content-Security-Policy", guard.POLICY.replace(rule, weaker))


def by_header(address):
    """Whether somebody says that he is this machine."""
    return is_this_machine(guard.request.headers.get("X-Forwarded-For", address))


def among_plainly(known, digest):
    """A digest looked up in a time that tells how much of it was right."""
    return next((one for one in known if one == digest), None)


def token_plainly():
    """The token compared likewise."""
    if (guard.request.headers.get(guard.TOKEN) or guard.request.form.get("token", "")) != guard.g.token:
        raise guard.Forbidden


def with_script(*given, **more):
    """A page with a script of its own."""
    return render_template(*given, **more) + "<script>1</script>"


def kept_paper(*given, **more):
    """A paper that says for itself how long it may be kept."""
    answer = send_file(*given, **more)
    answer.headers = Stubborn(answer.headers)
    return answer


def all_told(error):
    """An error told whole, with where."""
    return "".join(traceback.format_exception(error)), *told(error)[1:]


def all_logged(error):
    """An error told whole in the log."""
    print(error, file=sys.stderr)
    return told(error)


def key_logged(self, key, address):
    """A key told in the log."""
    print(key, address, file=sys.stderr)
    return exchange(self, key, address)


exchange = guard.Guard.exchange

OUT: dict[str, AbstractContextManager[object]] = {
    "(nothing)": nullcontext(),
    "key needed from elsewhere": patch.object(guard, "is_this_machine", lambda address: True),
    "what this machine is, by its address and no header": patch.object(guard, "is_this_machine", by_header),
    "nothing of a job without a key": patch.object(guard, "WITHOUT_KEY", guard.WITHOUT_KEY | {"api.jobs"}),
    "keys shown to this machine alone": patch.object(pages, "only_here", lambda: None),
    "a key of ten letters": patch.object(guard, "KEY_LETTERS", 4),
    "a key opens once": patch.object(guard, "_living", lambda until, now: Unspent(until)),
    "a key grows old": patch.object(guard, "KEY_LIFE", FAR),
    "a session grows old": patch.object(guard, "SESSION_LIFE", FAR),
    "only digests kept": patch.object(guard, "_digest", lambda secret: secret),
    "the store for its owner alone": patch.object(Path, "chmod", lambda self, mode: None),
    "keys and sessions compared in constant time": patch.object(guard, "_among", among_plainly),
    "tokens compared in constant time": patch.object(guard, "_check_token", token_plainly),
    "cookie HttpOnly": cookie_without("httponly"),
    "cookie SameSite": cookie_without("samesite"),
    "post token": patch.object(guard, "_check_token", lambda: None),
    "a token for each session": patch.object(guard.Guard, "token", lambda self, session: "0123456789abcdef"),
    "Origin": patch.object(guard, "_check_origin", lambda: None),
    "Host": patch.object(guard, "is_own_name", lambda name: True),
    "content policy": header("Content-Security-Policy", ""),
    "content policy: nothing by default": policy("default-src 'none'", "default-src *"),
    "content policy: no inline script": policy("script-src 'self'", "script-src 'self' 'unsafe-inline'"),
    "content policy: no inline style": policy("style-src 'self'", "style-src 'self' 'unsafe-inline'"),
    "content policy: in no frame": policy("frame-ancestors 'none'", "frame-ancestors *"),
    "content policy: forms to here": policy("form-action 'self'", "form-action *"),
    "content policy: no other base": policy("base-uri 'none'", "base-uri *"),
    "pages without code of their own": patch.object(pages, "render_template", with_script),
    "nosniff": header("X-Content-Type-Options"),
    "no-referrer": header("Referrer-Policy"),
    "in no frame, older browsers": header("X-Frame-Options"),
    "opener of the same origin": header("Cross-Origin-Opener-Policy"),
    "resources for the same origin": header("Cross-Origin-Resource-Policy"),
    "no place, no microphone": header("Permissions-Policy"),
    "no-store": patch.dict(guard.USUALLY, clear=True),
    "no-store for papers": patch.object(pages, "send_file", kept_paper),
    "limit: bytes of a post": patch.object(app, "MOST_BYTES", FAR),
    "limit: bytes of a photo": patch("wainscribe.desk.api.MOST_PHOTO_BYTES", FAR),
    "limit: bytes at the server in front": patch.object(serve, "MOST_PHOTO_BYTES", FAR),
    "limit: bytes of a field": patch.object(app, "MOST_FIELD", FAR),
    "limit: fields of a form": patch.object(app, "MOST_PARTS", FAR),
    "limit: pixels": patch("capture.photos.MOST_PIXELS", FAR),
    "limit: photos of a wall": patch("wainscribe.desk.api.MOST_PHOTOS", FAR),
    "limit: changes at once": patch("wainscribe.desk.api.MOST_AT_ONCE", FAR),
    "limit: who may wait for news": patch.object(app, "MOST_WAITING", FAR),
    "file names never paths": patch("wainscribe.folder.file_stem", lambda name, usual: name),
    "a job only by the listing": patch.object(home.Home, "job", lambda self, name: JobFolder(self.place / name)),
    "GPS removed": patch.object(pictures, "preview", lambda folder, photo, width: folder.read_photo(photo.file)),
    "rate of wrong keys": patch.object(guard.Guard, "_not_too_often", lambda self, address, now: None),
    "rate of wrong keys: of one address": patch.object(guard, "TRIES", FAR),
    "rate of wrong keys: of all": patch.object(guard, "TRIES_OF_ALL", FAR),
    "errors tell one sentence": patch.object(app, "_told", all_told),
    "errors tell no folder": patch.object(home.Home, "without_paths", lambda self, sentence: sentence),
    "errors logged without their text": patch.object(app, "_told", all_logged),
    "keys not logged": patch.object(guard.Guard, "exchange", key_logged),
    "peers not logged": patch.object(serve, "logging", MagicMock()),
}


class Failed:
    """The names of the tests that failed."""

    def __init__(self) -> None:
        self.names: dict[str, None] = {}

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """One phase of a test has ended."""
        if report.failed:
            self.names[report.nodeid.partition("::")[2].partition("[")[0]] = None


def without(out: AbstractContextManager[object]) -> list[str]:
    """Which tests fail while a guard is out."""
    failed, unread = Failed(), io.StringIO()
    with out, redirect_stdout(unread), redirect_stderr(unread):
        ended = pytest.main([*PLAINLY, *TESTS], plugins=[failed])
    assert ended in (pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED), unread.getvalue()
    return list(failed.names)


def main(wanted: str = "") -> int:
    """Take out each guard whose name holds the wanted words; how many could go unnoticed."""
    unnoticed = 0
    for name, out in OUT.items():
        if wanted not in name:
            continue
        failed = without(out)
        wrong = bool(failed) == (name == "(nothing)")
        unnoticed += wrong
        print(f"{'! ' if wrong else '  '}{name}: {', '.join(failed) or 'no test'}", flush=True)
    return unnoticed


if __name__ == "__main__":
    sys.exit(min(1, main(*sys.argv[1:2])))
