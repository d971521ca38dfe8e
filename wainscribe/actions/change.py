"""How every action changes a job: whole, checked, one sentence when it cannot be done."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from capture.errors import PlainError, UnknownNameError
from capture.record import Record, Wall
from wainscribe.folder import JobFolder
from wainscribe.job import what_is_wrong
from wainscribe.names import printable

R = TypeVar("R", bound=Record)


class ActionError(PlainError):
    """Something asked for that cannot be done."""


def with_changes(record: R, changes: dict[str, str], settable: Sequence[str], what: str) -> R:
    """The record with some fields set as typed; an empty value takes one back to its usual."""
    for key in changes:
        if key not in settable:
            raise UnknownNameError(what, key, list(settable))
    fields = type(record).model_fields
    cleared = {k: "" if fields[k].is_required() else fields[k].get_default() for k, v in changes.items() if v == ""}
    return checked(type(record), {**dict(record), **changes, **cleared})


def checked(record: type[R], values: dict[str, Any]) -> R:
    """A record from plain values, or one sentence that names the field."""
    try:
        return record.model_validate(values)
    except ValidationError as error:
        field, words = what_is_wrong(error)
        given = printable(str(error.errors()[0]["input"]))
        shown = given if len(given) <= 40 else f"{given[:40]}…"
        raise ActionError(f"“{field}” cannot be “{shown}”: {words}." if field else f"{words}.") from None


def change_wall(folder: JobFolder, name: str, edit: Callable[[Wall], Wall]) -> Wall:
    """Change one wall of the job."""
    with folder.changing() as change:
        wall = edit(change.job.wall(name))
        change.job = change.job.with_wall(wall)
        return wall


def read_file(file: Path) -> bytes:
    """The bytes of a file that a person named."""
    try:
        return file.read_bytes()
    except IsADirectoryError:
        raise ActionError(f"{file} is a folder; name the photos in it, such as {file / '*.jpg'}.") from None
    except OSError as error:
        raise ActionError(f"{file} cannot be read ({error.strerror or 'unknown reason'}); check its name.") from None
