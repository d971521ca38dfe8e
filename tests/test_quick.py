"""The copies of photos that are slow to open: like the photos, never measured, never in the way."""

from collections import namedtuple

import cv2
import numpy as np
import pytest
from PIL import Image

from capture.photos import read_photo
from capture.record import Photo
from tests import truth
from wainscribe import quick, seen
from wainscribe.seen import look_at, search_photo

HEIC = "window-wall.heic"


@pytest.fixture
def slow(folder) -> Photo:
    """A HEIC photo of the job, searched."""
    data = (truth.DEMO / "photos" / HEIC).read_bytes()
    photo = Photo(name=HEIC, file=folder.store_photo(HEIC, data))
    search_photo(folder, photo)
    return photo


def original(folder, photo):
    return read_photo(folder.read_photo(photo.file), photo.name)


def copies(folder):
    return list((folder.measured / "quick").glob("*"))


def test_a_searched_photo_is_looked_at_without_opening_it_again(folder, slow, monkeypatch) -> None:
    """Its luma is off by no more than JPEG's rounding of coefficients (ITU-T T.81, A.3.4): evenly up to half a step."""
    whole = original(folder, slow)
    monkeypatch.setattr(seen, "read_photo", None)
    shown = look_at(folder, slow)
    with Image.open(copies(folder)[0]) as copy:
        steps = np.array(copy.quantization[0], float)
    rounded = 3 / 12  # variance: to YCbCr, back from it, and luma of what came out, each to whole levels
    most = np.sqrt((steps**2).mean() / 12 + rounded)
    off = cv2.subtract(shown.gray, whole.gray, dtype=cv2.CV_32F)
    assert 0 < np.sqrt((off**2).mean()) < most
    for told in ("size", "taken", "focal_35", "phone", "turn", "zoom", "full_size"):
        assert getattr(shown, told) == getattr(whole, told)


def test_a_copy_says_nothing_but_pixels(folder, slow) -> None:
    with Image.open(copies(folder)[0]) as copy:
        assert not copy.getexif()
        assert set(copy.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


@pytest.mark.parametrize("harm", [b"", b"no photo", None], ids=["empty", "other bytes", "cut short"])
def test_a_damaged_copy_has_the_photo_itself_opened(folder, slow, harm) -> None:
    copy = copies(folder)[0]
    copy.write_bytes(copy.read_bytes()[:-5000] if harm is None else harm)
    np.testing.assert_array_equal(look_at(folder, slow).rgb, original(folder, slow).rgb)


def test_a_copy_that_is_missing_is_made_when_the_photo_is_looked_at(folder, slow) -> None:
    copies(folder)[0].unlink()
    np.testing.assert_array_equal(look_at(folder, slow).rgb, original(folder, slow).rgb)
    assert len(copies(folder)) == 1


def test_another_photo_under_the_same_name_is_not_shown_as_the_one_before(folder, slow) -> None:
    (folder.photos / slow.file).write_bytes((truth.DEMO / "photos" / "long-wall-1.jpg").read_bytes())
    np.testing.assert_array_equal(look_at(folder, slow).rgb, original(folder, slow).rgb)


def test_a_jpeg_is_kept_once(folder) -> None:
    name = "long-wall-1.jpg"
    photo = Photo(name=name, file=folder.store_photo(name, (truth.DEMO / "photos" / name).read_bytes()))
    search_photo(folder, photo)
    assert copies(folder) == []


def test_a_disk_that_is_nearly_full_is_left_alone(folder, monkeypatch) -> None:
    monkeypatch.setattr(quick.shutil, "disk_usage", lambda _: namedtuple("Usage", "free")(quick.SPARE - 1))
    photo = Photo(name=HEIC, file=folder.store_photo(HEIC, (truth.DEMO / "photos" / HEIC).read_bytes()))
    assert search_photo(folder, photo).cards
    assert copies(folder) == []
