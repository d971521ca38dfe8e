"""Work shared out between processes: setting a paper is all Python, of which one process runs one thread at a time.

Where no other process can be had, or one dies, the work is done here: the answers are the same.
"""

import ctypes
import gc
import os
import signal
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import forkserver, get_context, resource_tracker
from multiprocessing.connection import Connection
from multiprocessing.context import BaseContext
from threading import Thread
from types import TracebackType
from typing import Generic, ParamSpec, TypeVar

import cv2

from capture.errors import PlainError

MOST = 4  # processes: each holds the photos of a wall, or the pages of a paper
GARBAGE = 20_000  # new objects between two searches for rings of them: a paper's boxes are many, and few are rings

NO_MORE = (OSError, EOFError, BrokenProcessPool)  # processes to be had; EOF comes where what makes them was stopped

P = ParamSpec("P")
R = TypeVar("R")


class Workers:
    """Other processes, one for each processor, as long as the block lasts.

    Parameters
    ----------
    count
        How many; None is one for each processor, at most `MOST`. With one, all is done in this process.
    ready
        Modules that the work needs, by name: where processes can share them, they are imported once for all.
    """

    def __init__(self, count: int | None = None, ready: Sequence[str] = ()) -> None:
        wanted = min(os.cpu_count() or 1, MOST) if count is None else count
        self._pool: ProcessPoolExecutor | None = None
        if wanted > 1:
            try:
                self._start(wanted, ready)
            except (OSError, ImportError, NotImplementedError):  # a system without semaphores that processes share
                self._pool = None

    def _start(self, count: int, ready: Sequence[str]) -> None:
        context = _context(ready)
        self._theirs, self._ours = context.Pipe(duplex=False)
        self._pool = ProcessPoolExecutor(count, context, _begin, (self._theirs,))
        # One begins at once: who has it begin waits until all is imported, while other work goes on here.
        self._beginning = Thread(target=_first_of, args=(self._pool,))
        self._beginning.start()

    def start(self, work: Callable[P, R], *args: P.args, **kwargs: P.kwargs) -> Callable[[], R]:
        """Have work done; what comes back waits for its answer. Work and arguments must bear pickling.

        Raises
        ------
        PlainError
            When the answer is asked for: what the work raised.
        """
        if self._pool is not None:
            try:
                return _Awaited(self._pool.submit(_Plainly(work), *args, **kwargs), lambda: work(*args, **kwargs))
            except NO_MORE:
                pass
        return lambda: work(*args, **kwargs)

    def __enter__(self) -> "Workers":
        return self

    def __exit__(self, kind: type[BaseException] | None, _: BaseException | None, __: TracebackType | None) -> None:
        if self._pool is None:
            return
        self._beginning.join()  # what is closed below is handed to them
        if kind is not None:
            self._ours.close()  # nobody waits for what they are at
        self._pool.shutdown(cancel_futures=True)
        self._ours.close()
        self._theirs.close()


def _first_of(pool: ProcessPoolExecutor) -> None:
    with suppress(*NO_MORE):  # whoever has work to do is told
        pool.submit(int)


def let_go() -> None:
    """Give the system back the memory that is free (malloc_trim(3)): glibc keeps what lies below anything still held.

    Where there is no such call, nothing is done.
    """
    if sys.platform == "linux" and (trim := getattr(ctypes.CDLL(None), "malloc_trim", None)) is not None:
        trim(0)


def _context(ready: Sequence[str]) -> BaseContext:
    """How processes are made: not as copies of this one, for a copy of a process that has threads may hang.

    On Linux they are copies of one that has but imported what all need, which then takes time and memory once; it ends
    with this process. Windows and macOS have no other way than to start each anew.
    """
    if sys.platform != "linux":
        return get_context("spawn")
    context = get_context("forkserver")
    context.set_forkserver_preload([__name__, *ready])
    _start_server()
    return context


def _start_server() -> None:
    """Start what all are copies of, deaf to Ctrl-C: a terminal sends it that too, and it heeds it while it imports."""
    resource_tracker.ensure_running()  # first, for it lets signals through again
    before = signal.pthread_sigmask(signal.SIG_BLOCK, (signal.SIGINT,))
    try:
        forkserver.ensure_running()
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


class _Awaited(Generic[R]):
    """An answer under way, or else had by doing the work here."""

    def __init__(self, future: Future[R], here: Callable[[], R]) -> None:
        self._future, self._here = future, here

    def __call__(self) -> R:
        try:
            return self._future.result()
        except BrokenProcessPool:
            return self._here()


# In the other process.


def _begin(theirs: Connection) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # it goes when its parent does, without a word of its own
    Thread(target=_leave_with, args=(theirs,), daemon=True).start()
    cv2.setNumThreads(1)  # the other processors have processes of their own
    gc.freeze()  # what is imported stays; searched, it would be copied
    gc.set_threshold(GARBAGE)


def _leave_with(theirs: Connection) -> None:
    """End this process when the one that started it ends, however that was, or lets go."""
    try:
        theirs.recv_bytes()
    except (EOFError, OSError):
        os._exit(1)


@dataclass(frozen=True)
class _Plainly(Generic[P, R]):
    """Work whose sentence for a person comes back as such, whatever its class asks to be made from."""

    work: Callable[P, R]

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R:
        try:
            return self.work(*args, **kwargs)
        except PlainError as error:
            raise PlainError(str(error)) from None
        finally:
            let_go()
