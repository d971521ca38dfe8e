"""Names that can be told apart: what a job's walls, photos and marks may be called."""

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from typing import Any

from pydantic import BaseModel
from pydantic_core import PydanticSerializationError

from capture.places import EDGES, FLOOR, LEFT_END, RIGHT_END
from capture.record import TRAITS, Kind, Mark, Shape, Wall

_UNPRINTABLE = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")
_UNPRINTABLE_IN_JSON = re.compile(r"\\[bfru]|[\x7f-\x9f\u2028\u2029]")  # perhaps: a backslash may be meant itself


def printable(text: str) -> str:
    """The text on one line, without what no paper could print."""
    return " ".join(_UNPRINTABLE.sub(" ", text).split())


def check_texts(record: BaseModel) -> None:
    """Refuse text that no paper could print; ValueError names it."""
    with suppress(PydanticSerializationError):  # lone surrogates
        if not _UNPRINTABLE_IN_JSON.search(record.model_dump_json()):
            return
    for text in _texts(record.model_dump()):
        if _UNPRINTABLE.search(text):
            raise ValueError(f"“{printable(text)[:40]}” holds characters that cannot be printed; type it again")


def _texts(data: Any) -> Iterator[str]:
    if isinstance(data, str):
        yield data
    elif isinstance(data, dict):
        yield from (text for pair in data.items() for part in pair for text in _texts(part))
    elif isinstance(data, list | tuple):
        yield from (text for part in data for text in _texts(part))


def check_names(what: str, names: Sequence[str]) -> None:
    """Refuse a name that is used twice or that nobody could type again; ValueError says which."""
    for name in names:
        if name != printable(name):
            raise ValueError(f"“{printable(name)}” has spaces at an end, two in a row, or a line break; type it again")
        if names.count(name) > 1:
            raise ValueError(f"Two things are called “{name}”; every {what} needs a name of its own")


def check_new_names(known: Iterable[str], names: Iterable[str]) -> None:
    """Refuse a new name that no address can hold; ValueError says which. What a job holds already stays readable."""
    for name in {*names} - {*known}:
        if name in (".", ".."):  # steps of a path: RFC 3986, 5.2.4
            raise ValueError(f"“{name}” cannot be a name, for no page could show it; give it a word or a number")


def check_mark_names(wall: Wall) -> None:
    """Refuse marks that a tape reading could take for something else; ValueError says which."""
    check_names(f"mark on “{wall.name}”", [m.name for m in wall.marks])
    for mark in wall.marks:
        if _is_place(mark) or any(_is_part(mark.name, other) for other in wall.marks):
            raise ValueError(f"“{mark.name}” on “{wall.name}” already means another place; use another name")


def _is_place(mark: Mark) -> bool:
    if re.fullmatch(r"card \d+", mark.name):
        return True
    own = {Kind.WALL_END: f"{mark.side} end", Kind.FLOOR_POINT: FLOOR}.get(mark.kind)
    return mark.name in (LEFT_END, RIGHT_END, FLOOR) and mark.name != own


def _is_part(name: str, whole: Mark) -> bool:
    """Whether `name` is an edge of a mark, or what the adjustment calls one of its sights."""
    edges = EDGES if TRAITS[whole.kind].shape is Shape.RECTANGLE else ()
    return name in [f"{whole.name} {edge}" for edge in edges] or (
        name.startswith(f"{whole.name}#") and name.removeprefix(f"{whole.name}#").isdecimal()
    )
