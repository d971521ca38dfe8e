"""What the tests of job, actions and command line share: one wall, one photograph of it, one job folder."""

import shutil
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from hypothesis import settings
from PIL import Image

from tests import synthetic
from wainscribe.folder import JobFolder

# The same examples on every machine, and no time limit on a loaded one: a failure here is a fault, not bad luck.
settings.register_profile("wainscribe", derandomize=True, deadline=None)
settings.load_profile("wainscribe")

WALL = "long wall"
CAMERA = synthetic.look(
    size=(1600, 1200), f=1170.0, at=(60.0, 48.0, 80.0), yaw=8, pitch=3, k1=0.02, k2=-0.02, centre=(3.0, -2.0)
)
PLACED = {3: (30.0, 62.0, 1.0), 5: (62.0, 30.0, -1.0), 8: (88.0, 60.0, 0.5)}  # number: x, y [in], angle [degrees]


def pixels_of(points) -> np.ndarray:
    """True pixels (N, 2) of wall points (N, 2)."""
    return CAMERA.project(np.column_stack([points, np.zeros(len(points))]))


def card_box(number: int) -> tuple[slice, slice]:
    """Rows and columns of the picture that hold a card whole."""
    outline = synthetic.place(PLACED[number], np.array([(-4.6, -5.8), (4.6, -5.8), (4.6, 5.8), (-4.6, 5.8)]))
    left, top = np.floor(CAMERA.project(outline).min(axis=0)).astype(int)
    right, bottom = np.ceil(CAMERA.project(outline).max(axis=0)).astype(int)
    return slice(top, bottom), slice(left, right)


def save_photo(gray: np.ndarray, path: Path) -> Path:
    """A JPEG as a phone would name its lens."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 26  # FocalLengthIn35mmFilm
    Image.fromarray(np.repeat(gray[:, :, None], 3, axis=2)).save(path, quality=95, exif=exif)
    return path


@pytest.fixture(scope="session")
def wall_picture() -> np.ndarray:
    """The photograph of the wall's three cards, grey."""
    with pytest.MonkeyPatch.context() as quick:
        quick.setattr(synthetic, "OVERSAMPLE", 4)
        return synthetic.photograph(CAMERA, PLACED, seed=4)


@pytest.fixture(scope="session")
def wall_photo(wall_picture, tmp_path_factory) -> Path:
    return save_photo(wall_picture, tmp_path_factory.mktemp("photos") / "wall.jpg")


@pytest.fixture(scope="session")
def photos(wall_picture, wall_photo) -> dict[str, Path]:
    """The same photograph with cards painted over or pasted in twice, by what is to be seen."""
    bare = int(np.median(wall_picture))
    changed = {"no card": (3, 5, 8), "card 3": (5, 8), "cards 5 and 8": (3,)}
    made = {"all": wall_photo}
    for seen, hidden in changed.items():
        picture = wall_picture.copy()
        for number in hidden:
            picture[card_box(number)] = bare
        made[seen] = save_photo(picture, wall_photo.with_name(f"{seen}.jpg"))
    twice = wall_picture.copy()
    rows, columns = card_box(5)
    twice[rows, 60 : 60 + columns.stop - columns.start] = wall_picture[rows, columns]
    made["card 5 twice"] = save_photo(twice, wall_photo.with_name("twice.jpg"))
    return made


@pytest.fixture(scope="session")
def _photographed(wall_photo, tmp_path_factory) -> Path:
    from wainscribe import actions  # here, so that a test of one length need not wait for the whole program

    path = tmp_path_factory.mktemp("made") / "job"
    folder = actions.new_job(path, "the job")
    actions.set_wall(folder, WALL, None, {"width": "120"})
    actions.add_photo(folder, WALL, wall_photo)
    return path


@pytest.fixture
def job(_photographed, tmp_path) -> Path:
    """A job folder with one wall, 120 in wide, and the photograph of it, already searched."""
    return Path(shutil.copytree(_photographed, tmp_path / "job"))


@pytest.fixture
def folder(job) -> JobFolder:
    return JobFolder(job)


@pytest.fixture(autouse=True)
def _own_configuration(tmp_path, monkeypatch):
    """What is kept from job to job is never read from, or left in, the tester's own folder."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "configuration"))


@pytest.fixture
def cli():
    """Run the command line in this process; nothing may ever end in a traceback."""
    from wainscribe.cli import main

    def run(*words) -> Result:
        result = CliRunner().invoke(main, [str(word) for word in words], prog_name="wainscribe")
        assert result.exception is None or isinstance(result.exception, SystemExit), repr(result.exception)
        assert "Traceback" not in result.output
        assert result.exit_code in (0, 1, 2)
        return result

    return run
