"""The installer's logo: taken in by content, shown on every paper, never a traceback and never what its file hides."""

import io
import uuid
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image, ImageFile

from report.papers import LOGO_ROOM
from report.pictures import LOGO_DPI, png
from tests.papers import quietly, read, tagged
from tests.test_desk_guard import tokened
from tests.test_report_papers import FACTS
from tests.test_report_tagged import MAKERS
from wainscribe import actions
from wainscribe.desk.app import create_app
from wainscribe.job import JobError
from wainscribe.logo import MOST_WIDTH, LogoError, read_logo

RED, WHITE = (220, 30, 30), (255, 255, 255)


def file(picture: Image.Image, kind: str = "PNG", **more) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **more)
    return out.getvalue()


def half_red(mode: str = "RGB", size: tuple[int, int] = (300, 120)) -> Image.Image:
    """Red on the left, clear or white on the right."""
    picture = Image.new("RGBA", size, (*RED, 0))
    picture.paste((*RED, 255), (0, 0, size[0] // 2, size[1]))
    on_white = Image.new("RGB", size, WHITE)
    on_white.paste(picture, mask=picture.getchannel("A"))
    return picture if mode == "RGBA" else on_white.convert(mode)


def turned() -> bytes:
    """Lying on its side, with the tag that says how to turn it."""
    exif = Image.Exif()
    exif[0x0112] = 6  # Exif 2.32, Orientation: 90 degrees clockwise to upright
    return file(half_red().transpose(Image.Transpose.ROTATE_90), "JPEG", quality=95, exif=exif)


ODD = {
    "plain": lambda: file(half_red()),
    "transparent": lambda: file(half_red("RGBA")),
    "palette with a clear colour": lambda: file(half_red("RGBA").quantize(4)),
    "animated": lambda: file(half_red(), save_all=True, append_images=[Image.new("RGB", (300, 120), "blue")]),
    "CMYK": lambda: file(half_red("CMYK"), "JPEG", quality=95),
    "turned": turned,
    "giant": lambda: file(half_red(size=(9000, 3600))),
}


@pytest.mark.parametrize("odd", ODD)
def test_an_odd_picture_comes_out_upright_on_white(odd):
    logo = read_logo(ODD[odd](), odd)
    assert logo.mode == "RGB"
    assert logo.width <= MOST_WIDTH
    assert logo.width / logo.height == pytest.approx(2.5, rel=0.01)
    pixels = np.asarray(logo, int)
    rows, columns = logo.height // 2, logo.width // 4
    assert pixels[rows, columns] == pytest.approx(RED, abs=12)  # JPEG and CMYK keep a plain colour so near
    assert pixels[rows, 3 * columns] == pytest.approx(WHITE, abs=4)


def test_deep_grey_keeps_its_middle():
    pixels = np.full((40, 90), 0x8000, np.uint16)
    assert read_logo(file(Image.fromarray(pixels)), "deep.png").getpixel((5, 5)) == (128, 128, 128)


CUT = file(half_red())[:-60]
BAD = {
    "text": (b"our logo", "is no picture that a paper can show; save the logo as PNG or JPEG"),
    "empty": (b"", "is no picture"),
    "cut short": (CUT, "is no picture"),
    "SVG": (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "is no picture"),
    "bomb": (file(Image.new("1", (12_000, 12_000))), "has more than 50 megapixels; save the logo smaller"),
    "bomb that Pillow stops": (file(Image.new("1", (20_000, 20_000))), "has more than 50 megapixels"),
    "a line": (file(Image.new("RGB", (900, 3))), "is 900 × 3 pixels, too narrow for a logo"),
}


@pytest.mark.parametrize("bad", BAD)
@pytest.mark.parametrize("after_a_paper", [False, True])
def test_what_is_no_logo_gets_a_sentence_and_changes_nothing(folder, bad, after_a_paper, monkeypatch):
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", after_a_paper)  # WeasyPrint turns it on
    data, sentence = BAD[bad]
    before, kept = folder.load(), set(folder.photos.iterdir())
    with pytest.raises(LogoError, match=f"“the file” .*{sentence}"):
        actions.keep_logo(folder, "the file", data)
    assert folder.load() == before
    assert set(folder.photos.iterdir()) == kept


@pytest.mark.parametrize("paper", MAKERS)
def test_every_paper_shows_it_once_and_none_without(paper):
    def images(facts):
        reader = read(quietly(MAKERS[paper], facts))
        alts = [str(figure.get("/Alt")) for figure in tagged(reader, "/Figure")]
        return alts.count("Logo of D. Whitcomb"), reader

    assert images(FACTS)[0] == 0
    shown, reader = images(replace(FACTS, logo=read_logo(ODD["giant"](), "giant.png")))
    assert shown == 1
    assert round(1.5 * LOGO_DPI) in {image.image.width for image in reader.pages[0].images}  # 0.6 in high, so 1.5 wide
    assert LOGO_ROOM == (1.6, 0.6)


def test_nothing_but_pixels_reaches_the_paper():
    exif = Image.Exif()
    exif[0x010F] = "A maker"
    exif.get_ifd(0x8825)[1] = "N"  # Exif 2.32, GPSLatitudeRef
    data = file(half_red(), exif=exif, icc_profile=b"profile")
    assert b"eXIf" in data
    out = png(Image.open(io.BytesIO(data)), 1.5)
    assert not {b"eXIf", b"iCCP", b"tEXt", b"tIME"} & {out[k : k + 4] for k in range(len(out) - 4)}


# Noted with the job.


def test_it_is_kept_by_content_and_undo_brings_back_what_was(folder):
    one, other = (file(half_red(size=size)) for size in ((300, 120), (200, 100)))
    names = [actions.keep_logo(folder, "logo.png", data) for data in (one, other, one)]
    assert names == ["logo.png", "logo-2.png", "logo.png"]
    assert folder.read_photo("logo.png") == one
    actions.set_about(folder, {"logo": names[0]})
    actions.set_about(folder, {"logo": names[1]})
    folder.undo()
    assert folder.load().logo == names[0]
    folder.redo()
    assert folder.load().logo == names[1]
    assert actions.set_about(folder, {"logo": ""}).logo == ""


@pytest.mark.parametrize("name", ["gone.png", "../job.json", "/etc/passwd"])
def test_only_a_picture_of_the_job_can_be_named(folder, name):
    before = folder.load()
    with pytest.raises((JobError, LogoError)):
        actions.set_about(folder, {"customer": "x", "logo": name})
    assert folder.load() == before


def test_by_command(cli, job, folder, tmp_path):
    mine = tmp_path / "my logo.png"
    mine.write_bytes(ODD["transparent"]())
    assert "logo: my-logo.png\n" in cli("about", job, f"logo={mine}", "customer=Ann").stdout
    assert str(tmp_path) not in folder.file.read_text()
    assert "logo:\n" in cli("about", job, "logo=").stdout
    cli("undo", job)
    assert folder.load().logo == "my-logo.png"
    before = folder.load()
    (tmp_path / "notes.txt").write_text("no picture")
    for given, sentence in (
        (
            tmp_path / "notes.txt",
            "Error: “notes.txt” is no picture that a paper can show; save the logo as PNG or JPEG",
        ),
        (tmp_path / "gone.png", "cannot be read (No such file or directory); check its name."),
    ):
        result = cli("about", job, f"logo={given}", "customer=Ben")
        assert result.exit_code == 1
        assert sentence in result.stderr
        assert folder.load() == before
    assert "no job folder" in cli("about", tmp_path, f"logo={mine}").stderr


# From the browser.


@pytest.fixture
def here(job):
    return create_app(job).test_client()


def send(client, data, name="logo.png", headers=None):
    form = {"file": (io.BytesIO(data), name)}
    return client.post("/api/jobs/job/logo", data=form, headers=tokened(client) if headers is None else headers)


def change(client, value):
    one = {"id": str(uuid.uuid4()), "do": "about", "facts": {"logo": value}}
    return client.post("/api/jobs/job/changes", json={"changes": [one]}, headers=tokened(client)).json["results"][0]


def test_by_browser_it_is_sent_and_then_named(here, folder):
    sent = send(here, ODD["plain"](), "Mein Logo.png").json["logo"]
    assert sent == "Mein-Logo.png"
    assert folder.load().logo == ""  # kept, not shown yet
    assert change(here, sent)["ok"]
    assert folder.load().logo == sent
    assert change(here, "")["ok"]
    folder.undo()
    assert folder.load().logo == sent
    assert "is missing" in change(here, "/etc/passwd")["error"]


def test_the_guards_of_photos_hold_for_it(here, folder, monkeypatch):
    kept = set(folder.photos.iterdir())
    assert send(here, ODD["plain"](), headers={}).status_code == 403
    for data, _ in BAD.values():
        answer = send(here, data)
        assert answer.status_code == 400
        assert answer.json["error"]
    assert here.post("/api/jobs/job/logo", headers=tokened(here)).status_code == 400
    monkeypatch.setattr("wainscribe.desk.api.MOST_PHOTO_BYTES", 100)
    assert send(here, ODD["plain"]()).status_code == 413
    assert set(folder.photos.iterdir()) == kept


def test_a_hostile_name_stays_a_name(here, folder):
    for name in ("../../job.json", "..\\job.json", "/etc/passwd", "a\0b.png", "<img src=x>.png", "\u202egnp.exe"):
        answer = send(here, ODD["plain"](), name)
        assert answer.status_code == 200
        assert (folder.photos / answer.json["logo"]).read_bytes() == ODD["plain"]()
        assert set(answer.json["logo"]) <= set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.")


# What is missing.


@pytest.mark.parametrize("gone", ["wall.jpg", "logo.png"])
def test_papers_say_which_picture_is_missing(cli, job, folder, gone):
    actions.set_about(folder, {"logo": actions.keep_logo(folder, "logo.png", ODD["plain"]())})
    (folder.photos / gone).unlink()
    result = cli("papers", job)
    assert result.exit_code == 1
    assert f"The photo {gone} is missing from" in result.stderr
    assert "copy it back there" in result.stderr
