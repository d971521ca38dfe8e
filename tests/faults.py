"""A disk that fails at any step one likes: each call that writes is counted, and one of them is made to go wrong.

What a killed program leaves behind is what the calls before the kill did, so stopping at every call in turn tries
every place where it could die; of bytes being written, half arrive.
"""

import builtins
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

CALLS = ("replace", "fsync", "unlink", "mkdir", "rename")  # of os; `open` for writing and `write` are counted too


class Died(BaseException):
    """The program is dead: nothing that it would still do has any effect."""


@dataclass
class Disk:
    """What was asked of it, and what it does at which call."""

    at: int | None = None  # which call goes wrong, from 0
    how: Callable[[], BaseException] = Died
    asked: list[tuple[str, str]] = field(default_factory=list)  # what, and the file's name
    dead: bool = False

    def ask(self, what: str, name: object) -> BaseException | None:
        """Count a call; what it shall raise, if anything."""
        if self.dead:
            return Died()
        self.asked.append((what, os.path.basename(os.fspath(name)) if isinstance(name, str | Path) else ""))
        if len(self.asked) - 1 != self.at:
            return None
        wrong = self.how()
        self.dead = isinstance(wrong, Died)
        return wrong


class _File:
    """An open file whose writes are counted; the one that goes wrong leaves half of its bytes."""

    def __init__(self, file: Any, disk: Disk) -> None:
        self._file, self._disk = file, disk

    def write(self, data: Any) -> int:
        if wrong := self._disk.ask("write", self._file.name):
            self._file.write(data[: len(data) // 2])
            self._file.flush()
            raise wrong
        return int(self._file.write(data))

    def __enter__(self) -> "_File":
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)


@contextmanager
def failing(disk: Disk) -> Iterator[Disk]:
    """While it lasts, what this program asks of any disk goes through `disk`."""
    real_open = builtins.open

    def counted(what: str, call: Callable[..., Any]) -> Callable[..., Any]:
        def asked(path: Any, *rest: Any, **options: Any) -> Any:
            if wrong := disk.ask(what, path):
                raise wrong
            return call(path, *rest, **options)

        return asked

    def opened(path: Any, mode: str = "r", *rest: Any, **options: Any) -> Any:
        if not set(mode) & set("wax+"):
            return real_open(path, mode, *rest, **options)
        if wrong := disk.ask("open", path):
            raise wrong
        return _File(real_open(path, mode, *rest, **options), disk)

    with pytest.MonkeyPatch.context() as patch:
        for call in CALLS:
            patch.setattr(os, call, counted(call, getattr(os, call)))
        patch.setattr(builtins, "open", opened)
        yield disk
