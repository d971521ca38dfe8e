"""Who may come in: this machine, and who was shown a key by it.

A key is shown on the laptop, used once, and exchanged for a session cookie. What is kept of keys and sessions are
digests. The peer's address alone says what this machine is, never a header, which anybody can write.
"""

import hashlib
import hmac
import ipaddress
import json
import secrets
import socket
import time
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from typing import Any

from flask import Flask, Response, abort, g, redirect, request
from werkzeug.exceptions import Forbidden, TooManyRequests, Unauthorized

from wainscribe.disk import plain_disk_errors, write_whole

COOKIE = "wainscribe-desk"
TOKEN = "X-Desk-Token"
KEY_LIFE = 15 * 60.0  # s
SESSION_LIFE = 30 * 24 * 3600.0  # s
MOST_SESSIONS, MOST_KEYS = 50, 20
LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"  # none is taken for another
KEY_LETTERS = 10  # 31^10 keys: at `TRIES` a minute a guess takes longer than any key lives
TRIES, TRIES_OF_ALL = 5, 20  # wrong keys a minute, of one address and of all together
MINUTE = 60.0

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; "
    "font-src 'self'; manifest-src 'self'; worker-src 'self'; frame-ancestors 'none'; base-uri 'none'; "
    "form-action 'self'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), microphone=(), payment=(), usb=()",
}
USUALLY = {"Cache-Control": "no-store"}  # where a page says nothing else
WITHOUT_KEY = {"pages.enter_key", "pages.use_key", "pages.worker", "static"}  # tell nothing of a job


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


@dataclass
class Guard:
    """Keys, sessions, and the rules at the door.

    Parameters
    ----------
    store
        Where sessions outlive a restart; None keeps them in memory alone.
    clock
        Seconds since 1970.
    """

    store: Path | None = None
    clock: Callable[[], float] = time.time
    sessions: dict[str, float] = field(default_factory=dict)  # digest of the cookie: until when
    keys: dict[str, float] = field(default_factory=dict)  # digest of the key: until when
    wrong: deque[tuple[float, str]] = field(default_factory=deque)  # when, and from which address
    secret: str = field(default_factory=secrets.token_hex)
    lock: Lock = field(default_factory=Lock)

    def __post_init__(self) -> None:
        """Take up the sessions of before."""
        if self.store is None:
            return
        try:
            kept = json.loads(self.store.read_bytes())
            self.secret = str(kept["secret"])
            self.sessions = {str(digest): float(until) for digest, until in kept["sessions"].items()}
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            self._keep()

    def _keep(self) -> None:
        if self.store is not None:
            with plain_disk_errors(self.store):
                self.store.parent.mkdir(parents=True, exist_ok=True)
                write_whole(self.store, json.dumps({"secret": self.secret, "sessions": self.sessions}))
                self.store.chmod(0o600)

    def new_key(self) -> str:
        """A key that opens the door once, within a quarter of an hour."""
        key = "".join(secrets.choice(LETTERS) for _ in range(KEY_LETTERS))
        with self.lock:
            self.keys = dict(list(_living(self.keys, self.clock()).items())[-MOST_KEYS + 1 :])
            self.keys[_digest(key)] = self.clock() + KEY_LIFE
        return key

    def exchange(self, key: str, address: str) -> str:
        """A session for a key, which is spent by it.

        Raises
        ------
        TooManyRequests, Forbidden
            Too many wrong keys of late; not a key, spent or too old.
        """
        now, plain = self.clock(), key.upper().replace("-", "").replace(" ", "")
        with self.lock:
            self._not_too_often(address, now)
            self.keys = _living(self.keys, now)
            known = _among(self.keys, _digest(plain))
            if known is None:
                self.wrong.append((now, address))
                raise Forbidden(
                    "That key does not open this desk, or it was used before; show a new one on the laptop."
                )
            del self.keys[known]
            session = secrets.token_urlsafe(32)
            self.sessions = dict(list(_living(self.sessions, now).items())[-MOST_SESSIONS + 1 :])
            self.sessions[_digest(session)] = now + SESSION_LIFE
            self._keep()
        return session

    def _not_too_often(self, address: str, now: float) -> None:
        while self.wrong and self.wrong[0][0] <= now - MINUTE:
            self.wrong.popleft()
        mine = sum(by == address for _, by in self.wrong)
        if mine >= TRIES or len(self.wrong) >= TRIES_OF_ALL:
            raise TooManyRequests("Too many wrong keys; wait a minute and try again.", retry_after=int(MINUTE))

    def knows(self, session: str) -> bool:
        """Whether a cookie is one of ours."""
        with self.lock:
            return _among(_living(self.sessions, self.clock()), _digest(session)) is not None

    def token(self, session: str) -> str:
        """What a page of this session sends with every change, so that no other site's page can."""
        return hmac.new(self.secret.encode(), session.encode(), "sha256").hexdigest()[:32]

    def check(self) -> None:
        """Let a request in, or refuse it in a sentence; whom it comes from is in ``g`` afterwards."""
        if not is_own_name(_host_name(request.host)):
            raise Forbidden("This desk is not known by that name; open it by the address that the laptop shows.")
        session = request.cookies.get(COOKIE, "")
        g.here = is_this_machine(request.remote_addr)
        g.session = session if session and self.knows(session) else ""
        g.token = self.token(g.session or ("here" if g.here else ""))
        if request.endpoint in WITHOUT_KEY and request.method in ("GET", "HEAD"):
            return
        if not (g.here or g.session) and request.endpoint != "pages.enter_key":
            raise Unauthorized("This desk wants its key; it is shown on the laptop.")
        if request.method not in ("GET", "HEAD", "OPTIONS"):
            _check_origin()
            _check_token()


def _check_origin() -> None:
    origin = request.headers.get("Origin")
    if origin is not None and origin != request.host_url.rstrip("/"):
        raise Forbidden("A page of another site may not change anything here.")


def _check_token() -> None:
    sent = request.headers.get(TOKEN) or request.form.get("token", "") if _is_form() else request.headers.get(TOKEN)
    if not hmac.compare_digest((sent or "").encode(), g.token.encode()):
        raise Forbidden("This page is out of date; load it again.")


def _is_form() -> bool:
    return request.endpoint == "pages.enter_key"  # the one page that works without scripts


def _living(until: dict[str, float], now: float) -> dict[str, float]:
    return {digest: end for digest, end in until.items() if end > now}


def _among(known: Iterable[str], digest: str) -> str | None:
    """The digest, if it is known: every known one is compared, each in constant time."""
    found = None
    for one in known:
        if hmac.compare_digest(one, digest):
            found = one
    return found


def is_this_machine(address: str | None) -> bool:
    """Whether a peer's address is the machine's own loopback."""
    try:
        peer = ipaddress.ip_address(address or "")
    except ValueError:
        return False
    mapped = getattr(peer, "ipv4_mapped", None)
    return bool((mapped or peer).is_loopback)


def is_own_name(name: str) -> bool:
    """Whether a Host is this machine: by name, or by an address that a socket here can be bound to.

    A name that another site points to this machine (DNS rebinding) is neither.
    """
    own = socket.gethostname().lower()
    if name in ("localhost", own, f"{own}.local"):
        return True
    try:
        address = ipaddress.ip_address(name)
    except ValueError:
        return False
    if address.is_unspecified or address.is_multicast:
        return False
    family = socket.AF_INET if address.version == 4 else socket.AF_INET6
    try:
        with socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.bind((name, 0))
    except OSError:
        return False
    return True


def _host_name(host: str) -> str:
    name = host.lower()
    if name.startswith("["):
        return name[1:].partition("]")[0]
    return name.rpartition(":")[0] if name.rpartition(":")[2].isdigit() and ":" in name else name


def put_up(app: Flask, guard: Guard) -> None:
    """Set the guard before every page and its headers on every answer."""

    @app.before_request
    def let_in() -> Any:
        try:
            guard.check()
        except Unauthorized:
            if request.method in ("GET", "HEAD") and not request.path.startswith("/api/"):
                return redirect("/key")
            raise
        return None

    @app.after_request
    def with_headers(response: Response) -> Response:
        for name, value in HEADERS.items():
            response.headers[name] = value
        for name, value in USUALLY.items():
            response.headers.setdefault(name, value)
        response.headers.pop("Server", None)
        return response


def only_here() -> None:
    """Refuse who is not at this machine."""
    if not g.here:
        abort(403, "Only the laptop itself shows keys.")
