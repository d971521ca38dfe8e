from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from report.pictures import jpeg, shrink

GPS = 0x8825  # Exif 2.32: pointer to the GPS directory


def photo_with_position() -> Image.Image:
    exif = Image.Exif()
    exif[0x010F] = "A maker"
    exif.get_ifd(GPS)[1] = "N"
    exif.get_ifd(GPS)[2] = (45.0, 30.0, 0.0)
    held = BytesIO()
    Image.new("RGB", (400, 300), (90, 120, 60)).save(held, "JPEG", exif=exif, comment=b"secret")
    opened = Image.open(held)
    opened.load()
    return opened


def test_the_photo_of_this_test_does_carry_a_position():
    assert photo_with_position().getexif().get_ifd(GPS)


def test_no_position_and_no_maker_reach_the_paper():
    out = jpeg(photo_with_position(), 2.0)
    opened = Image.open(BytesIO(out))
    assert dict(opened.getexif()) == {}
    assert not {"exif", "comment", "icc_profile", "xmp"} & set(opened.info)
    assert b"Exif" not in out
    assert b"secret" not in out


@pytest.mark.parametrize(("inches", "pixels"), [(1.0, 200), (2.0, 400), (7.0, 400)])
def test_pictures_are_as_fine_as_print_needs_and_never_blown_up(inches, pixels):
    assert Image.open(BytesIO(jpeg(photo_with_position(), inches))).width == pixels


def test_shrinking_keeps_the_shape():
    assert shrink(Image.new("RGB", (4000, 3000)), 1000).size == (1000, 750)
    assert shrink(Image.new("RGB", (5000, 1)), 100).size == (100, 1)


def test_transparency_and_grey_are_taken_too():
    for mode in ("L", "RGBA", "P"):
        opened = Image.open(BytesIO(jpeg(Image.new(mode, (50, 40)), 1.0)))
        assert np.asarray(opened).shape == (40, 50, 3)
