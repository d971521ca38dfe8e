from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from report.pictures import cut, jpeg, shrink, size_of

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


@pytest.mark.parametrize(
    ("size", "most"), [((4032, 3024), 1460), ((4031, 3025), 1460), ((600, 450), 400), ((800, 600), 400)]
)
def test_each_pixel_of_a_photo_made_smaller_is_the_mean_of_what_it_covers(size, most):
    """The mean of a ramp over a span is the ramp at the span's middle; rounded to whole levels once or twice."""
    width, height = size
    across, down = np.linspace(0, 255, width)[None, :], np.linspace(0, 255, height)[:, None]
    ramp = np.stack(np.broadcast_arrays(across, down, (across + down) / 2), axis=-1)
    photo = np.rint(ramp + np.random.default_rng(0).uniform(-0.5, 0.5, ramp.shape)).clip(0, 255).astype(np.uint8)
    small = np.asarray(shrink(photo, most), float)
    assert small.shape == (round(height * most / width), most, 3)
    across, down = (
        ((np.arange(now) + 0.5) * was / now - 0.5) * 255 / (was - 1)
        for now, was in zip(small.shape[1::-1], size, strict=True)
    )
    wanted = np.stack(np.broadcast_arrays(across[None, :], down[:, None], (across + down[:, None]) / 2), axis=-1)
    noise = 5 * 0.5 / (width / most)  # five sd of a mean over so many across and down, each one of two levels: 0.5
    assert np.abs(small - wanted).max() < 1.0 + noise


def test_a_photo_as_it_lies_is_looked_at_and_cut_as_a_picture_is():
    photo = np.random.default_rng(1).integers(0, 255, (30, 40, 3)).astype(np.uint8)
    picture, box = Image.fromarray(photo), (5, 6, 25, 28)
    assert size_of(photo) == size_of(picture) == size_of(lambda: picture) == (40, 30)
    assert shrink(photo, 40) == picture
    assert cut(photo, box) == cut(picture, box) == cut(lambda: picture, box) == picture.crop(box)


def test_transparency_and_grey_are_taken_too():
    for mode in ("L", "RGBA", "P"):
        opened = Image.open(BytesIO(jpeg(Image.new(mode, (50, 40)), 1.0)))
        assert np.asarray(opened).shape == (40, 50, 3)
