"""Who works when: one at a time, those whom a person waits for first, and nobody for a page that was left."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import BoundedSemaphore, Condition

from flask import has_request_context, request
from werkzeug.exceptions import ClientDisconnected, ServiceUnavailable

MOST_WORKING = 14  # who may wait for work or do it at a time: each takes a thread
LOOK = 0.5  # s between two looks whether somebody still waits for the answer


def asker_left() -> bool:
    """Whether the page has given up the request that is being answered; waitress tells where it serves."""
    return has_request_context() and bool(request.environ.get("waitress.client_disconnected", bool)())


class Turns:
    """One works at a time, and who is waited for at once goes before who may wait."""

    def __init__(self, seats: BoundedSemaphore | None = None) -> None:
        self._seats = seats or BoundedSemaphore(MOST_WORKING)
        self._changed = Condition()
        self._working = False
        self.waiting = 0  # for the next turn

    @contextmanager
    def first(self) -> Iterator[None]:
        """The next turn."""
        with self._seat():
            with self._changed:
                self.waiting += 1
                try:
                    self._wait(lambda: not self._working)
                finally:
                    self.waiting -= 1
                    self._changed.notify_all()
                self._working = True
            yield from self._work()

    @contextmanager
    def later(self) -> Iterator[None]:
        """A turn once nobody waits for the next one."""
        with self._seat():
            with self._changed:
                self._wait(lambda: not self._working and not self.waiting)
                self._working = True
            yield from self._work()

    @contextmanager
    def _seat(self) -> Iterator[None]:
        if not self._seats.acquire(blocking=False):
            raise ServiceUnavailable("Too many are waiting for walls to be measured; ask again in a few seconds.")
        try:
            yield
        finally:
            self._seats.release()

    def _wait(self, free: Callable[[], bool]) -> None:
        while not free():
            if asker_left():
                raise ClientDisconnected
            self._changed.wait(LOOK)

    def _work(self) -> Iterator[None]:
        try:
            yield
        finally:
            with self._changed:
                self._working = False
                self._changed.notify_all()
