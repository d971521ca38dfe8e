"""Photos taken in and taken off a wall."""

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path

from capture.errors import PlainError, UnknownNameError
from capture.photos import read_photo
from capture.record import Photo, Wall
from wainscribe.actions.change import change_wall, checked, read_file
from wainscribe.folder import JobFolder
from wainscribe.names import printable
from wainscribe.seen import Measured, at_once, search_photo


def add_photo(
    folder: JobFolder, wall: str, file: Path, caption: str = "", record_only: bool = False
) -> tuple[Photo, Measured]:
    """Take a photo in from a file; see `take_photo`."""
    folder.load().wall(wall)
    return take_photo(folder, wall, file.name, read_file(file), caption, record_only)


def add_photos(
    folder: JobFolder,
    wall: str,
    files: Sequence[Path],
    caption: str = "",
    record_only: bool = False,
    tell: Callable[[str], None] = lambda _: None,
) -> Iterator[tuple[Photo, Measured] | PlainError]:
    """Take photos in from files, searched on all processors: in their order, each as soon as it is done.

    In the place of a file that cannot be taken comes its error: it must not keep the others out.
    """
    folder.load().wall(wall)
    searches = [partial(_search, folder, file.name, partial(read_file, file)) for file in files]
    for search in at_once(searches, [printable(file.name) for file in files], tell):
        try:
            yield _note(folder, wall, search.result(), caption, record_only)
        except PlainError as error:
            yield error


def take_photo(
    folder: JobFolder, wall: str, name: str, data: bytes, caption: str = "", record_only: bool = False
) -> tuple[Photo, Measured]:
    """Take a photo in: keep the original, search it, and note it with its wall.

    A photo that shows no card is kept as a record photo.
    """
    folder.load().wall(wall)
    return _note(folder, wall, _search(folder, name, lambda: data), caption, record_only)


def _search(folder: JobFolder, name: str, read: Callable[[], bytes]) -> tuple[Photo, Measured]:
    """Keep an original that is a photo, and search it."""
    called, data = printable(name)[:80].strip() or "photo", read()
    picture = read_photo(data, called, colour=False)
    photo = Photo(name=called, file=folder.store_photo(name, data))
    return photo, search_photo(folder, photo, picture)


def _note(
    folder: JobFolder, wall: str, searched: tuple[Photo, Measured], caption: str, record_only: bool
) -> tuple[Photo, Measured]:
    kept, measured = searched

    def edit(now: Wall) -> Wall:
        old = next((p for p in now.photos if p.file == kept.file), None)
        name = old.name if old else _free_photo_name(now, kept.name)
        folder.answer_with(name)
        photo = Photo(name=name, file=kept.file, caption=caption, record_only=record_only or not measured.cards)
        return now.model_copy(update={"photos": (*(p for p in now.photos if p != old), photo)})

    return change_wall(folder, wall, edit).photos[-1], measured


def _free_photo_name(wall: Wall, name: str) -> str:
    """A phone starts to count anew one day: two pictures of one name must not share their marks."""
    stem, dot, ending = name.rpartition(".")
    taken = {p.name for p in wall.photos}
    names = (name, *(f"{stem[:70]} ({n}){dot}{ending[:5]}" for n in range(2, len(taken) + 3)))
    return next(free for free in names if free not in taken)


def describe_photo(
    folder: JobFolder, wall: str, name: str, caption: str | None = None, record_only: bool | None = None
) -> Photo:
    """Say what a photo shows, or whether it only documents a condition; what is None stays as it is."""
    given = {k: v for k, v in (("caption", caption), ("record_only", record_only)) if v is not None}

    def edit(now: Wall) -> Wall:
        old = find_photo(now, name)
        photo = checked(Photo, {**dict(old), **given})
        return now.model_copy(update={"photos": tuple(photo if p == old else p for p in now.photos)})

    full = find_photo(folder.load().wall(wall), name).name
    return find_photo(change_wall(folder, wall, edit), full)


def remove_photo(folder: JobFolder, wall: str, name: str) -> str:
    """Take a photo off a wall, with what was marked in it; the original stays in the folder. Its full name."""

    def edit(now: Wall) -> Wall:
        gone = find_photo(now, name).name
        photos = tuple(p for p in now.photos if p.name != gone)
        marks = (m.model_copy(update={"sights": tuple(s for s in m.sights if s.photo != gone)}) for m in now.marks)
        return now.model_copy(update={"photos": photos, "marks": tuple(marks)})

    full = find_photo(folder.load().wall(wall), name).name
    change_wall(folder, wall, edit)
    return full


def find_photo(wall: Wall, name: str) -> Photo:
    """A photo of a wall by its name, with or without its ending."""
    by_name = {p.name.rsplit(".", 1)[0]: p for p in reversed(wall.photos)} | {p.name: p for p in wall.photos}
    if name not in by_name:
        raise UnknownNameError(f"photo of “{wall.name}”", name, [p.name for p in wall.photos])
    return by_name[name]
