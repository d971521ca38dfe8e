"""Long work that ends once nobody wants it: who has it done says what to ask, and the work asks between two steps."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_ask: ContextVar[Callable[[], None]] = ContextVar("ask", default=lambda: None)


@contextmanager
def asking(ask: Callable[[], None]) -> Iterator[None]:
    """Have all work in here, in this thread, call `ask` between its steps; it raises where the work is to end."""
    before = _ask.set(ask)
    try:
        yield
    finally:
        _ask.reset(before)


def still_wanted() -> None:
    """Ask, between two steps."""
    _ask.get()()
