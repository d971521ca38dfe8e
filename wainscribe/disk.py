"""Files written whole or not at all, under names that every machine takes; what a disk refuses in one sentence."""

import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from errno import EDQUOT, EISDIR, ENOSPC, EROFS
from pathlib import Path
from threading import get_ident

from capture.errors import PlainError

DEVICE = re.compile(r"con|prn|aux|nul|(com|lpt)\d", re.I)  # Windows opens a device under these names


class DiskError(PlainError):
    """A file or folder that the disk does not let be used."""


def file_stem(name: str, usual: str) -> str:
    """A file name, without its ending, that is safe on every machine; the usual one where nothing of it is."""
    stem = re.sub(r"[^A-Za-z0-9_-]+", "-", name).strip("-")[:60] or usual
    return f"{usual}-{stem}" if DEVICE.fullmatch(stem) else stem


def write_whole(path: Path, data: bytes | str, *, lasting: bool = True) -> None:
    """Write a file whole or not at all: a temporary file in the same folder, synced, then renamed over.

    What is made anew where it is missing or broken need not be `lasting`: it waits for no disk, and a power cut may
    take it.
    """
    if path.is_dir():
        raise IsADirectoryError(EISDIR, os.strerror(EISDIR))
    temporary = path.with_name(f".{path.name}.{os.getpid()}-{get_ident()}.tmp")
    try:
        with open(temporary, "wb") as file:
            file.write(data.encode() if isinstance(data, str) else data)
            if lasting:
                file.flush()
                os.fsync(file.fileno())
        os.replace(temporary, path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    if lasting:
        sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Have the disk confirm what was renamed in a folder; without that it stands, but may not outlive a power cut."""
    if os.name == "nt":
        return  # Windows has no handle to sync a folder by
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        raise DiskError(
            f"The disk of {folder} does not confirm what was written to it ({reason_of(error)}); look whether the "
            "change is there, and copy the folder to another disk."
        ) from None
    finally:
        os.close(handle)


@contextmanager
def plain_disk_errors(path: Path) -> Iterator[None]:
    """Turn what a disk can refuse into one sentence."""
    try:
        yield
    except OSError as error:
        raise DiskError(_refusal(path, error)) from None


def _refusal(path: Path, error: OSError) -> str:
    if error.errno in (ENOSPC, EDQUOT):
        return f"The disk of {path} is full; nothing was changed. Free some space and try again."
    if isinstance(error, PermissionError) or error.errno == EROFS:
        return f"{path} may not be written to; choose a folder of your own."
    if isinstance(error, IsADirectoryError):
        return f"{path} is a folder; name a file in it."
    if isinstance(error, FileExistsError | NotADirectoryError):
        return f"{path} cannot be made, for a file of that name is in the way; choose another."
    if isinstance(error, FileNotFoundError) and not path.parent.exists():
        return f"There is no folder {path.parent} to write {path.name} into; make it first."
    return f"{path} cannot be written ({reason_of(error)}); nothing was changed."


def reason_of(error: Exception) -> str:
    """Why the disk refused, in its own words."""
    return error.strerror if isinstance(error, OSError) and error.strerror else type(error).__name__
