"""Photos searched on all processors: in order, each once, and in no more memory than there are processors."""

import re
import threading

import numpy as np
import pytest

from capture.errors import PlainError
from capture.photos import Picture, read_photo
from capture.record import Photo
from wainscribe import seen
from wainscribe.seen import at_once, in_colour, search_photo, search_photos


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


def test_each_comes_as_soon_as_it_is_done_though_a_later_one_is_still_at_work(monkeypatch) -> None:
    monkeypatch.setattr(seen.os, "cpu_count", lambda: 2)
    first_is_here, said = threading.Event(), []
    results = at_once([lambda: 1, lambda: first_is_here.wait(30), lambda: 3], ["a", "b", "c"], said.append)
    assert next(results).result() == 1
    first_is_here.set()
    assert [search.result() for search in results] == [True, 3]
    assert said == ["looking at 1 of 3: a", "looking at 2 of 3: b", "looking at 3 of 3: c"]


def test_photos_in_colour_come_by_name_and_the_first_that_fails_is_told(folder, five) -> None:
    def read(photo: Photo) -> Picture:
        return read_photo(folder.read_photo(photo.file), photo.name)

    pictures = in_colour(five, read)
    assert list(pictures) == [photo.name for photo in five]
    np.testing.assert_array_equal(pictures[five[2].name].rgb, read(five[2]).rgb)
    for photo in five[1:3]:
        (folder.path / "photos" / photo.file).write_bytes(b"no photo")
    with pytest.raises(PlainError, match=f"“{five[1].name}” is not a"):
        in_colour(five, read)


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
