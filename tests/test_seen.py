"""Photos searched on all processors: in order, each once, and in no more memory than there are processors."""

import re
import threading

import pytest

from capture.errors import PlainError
from capture.record import Photo
from wainscribe import seen
from wainscribe.seen import search_photo, search_photos


@pytest.fixture
def five(folder, photos) -> list[Photo]:
    """Five photos of the job, none searched yet, each with other cards."""
    files = ("all", "no card", "card 3", "cards 5 and 8", "card 5 twice")
    kept = [Photo(name=f"{n}.jpg", file=folder.store_photo(f"{n}.jpg", photos[n].read_bytes())) for n in files]
    for one in folder.measured.glob("*.json"):
        one.unlink()
    return kept


CARDS = [[3, 5, 8], [], [3], [5, 8], [3, 8]]


def numbers(found) -> list[list[int]]:
    return [[c.number for c in one.cards] for one in found]


def test_results_come_in_the_photos_order_and_each_is_told_in_turn(folder, five) -> None:
    said: list[str] = []
    assert numbers(search_photos(folder, five, said.append)) == CARDS
    assert said == [f"looking at {i} of 5: {photo.name}" for i, photo in enumerate(five, start=1)]


def test_the_same_as_one_by_one(folder, five) -> None:
    together = search_photos(folder, five)
    for one in folder.measured.glob("*.json"):
        one.unlink()
    assert together == [search_photo(folder, photo) for photo in five]


def test_a_photo_once_searched_is_neither_searched_nor_told_again(folder, five, monkeypatch) -> None:
    said: list[str] = []
    search_photos(folder, five[:3])
    read: list[str] = []
    original = seen.read_photo
    monkeypatch.setattr(seen, "read_photo", lambda data, name, **how: read.append(name) or original(data, name, **how))
    assert numbers(search_photos(folder, five, said.append)) == CARDS
    assert sorted(read) == sorted(p.name for p in five[3:])
    assert said == [f"looking at 1 of 2: {five[3].name}", f"looking at 2 of 2: {five[4].name}"]


def test_one_file_given_twice_is_searched_once(folder, five) -> None:
    said: list[str] = []
    assert numbers(search_photos(folder, [five[0], five[0]], said.append)) == [CARDS[0], CARDS[0]]
    assert len(said) == 1


def test_nothing_to_search_is_no_fault(folder) -> None:
    assert search_photos(folder, []) == []


@pytest.mark.parametrize("processors", [1, 2, 3])
def test_no_more_photos_are_open_at_a_time_than_there_are_processors(folder, five, monkeypatch, processors) -> None:
    monkeypatch.setattr(seen.os, "cpu_count", lambda: processors)
    open_now, most, lock = 0, 0, threading.Lock()
    original = seen.detect

    def watched(gray, name):
        nonlocal open_now, most
        with lock:
            open_now += 1
            most = max(most, open_now)
        try:
            return original(gray, name)
        finally:
            with lock:
                open_now -= 1

    monkeypatch.setattr(seen, "detect", watched)
    assert numbers(search_photos(folder, five)) == CARDS
    assert 1 <= most <= processors


def test_a_damaged_photo_is_told_plainly_and_the_others_are_kept(folder, five) -> None:
    path = folder.path / "photos" / five[1].file
    path.write_bytes(path.read_bytes()[:5000])
    with pytest.raises(PlainError, match=re.escape(f"“{five[1].name}” is damaged or cut short")):
        search_photos(folder, five)
    kept = {p.name for p in folder.measured.glob("*.json")}
    assert kept == {f"{p.file}.json" for p in five if p != five[1]}


def test_zoom_and_full_size_are_kept(folder, five) -> None:
    found = search_photos(folder, five[:1])[0].seen("a")
    again = search_photos(folder, five[:1])[0].seen("a")
    assert (found.zoom, found.full_size) == (again.zoom, again.full_size) == (1.0, None)
