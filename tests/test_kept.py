"""What is kept from job to job: lenses and printed scales, in the user's own configuration folder."""

from fractions import Fraction

import numpy as np
import pytest

from capture.beliefs import PRINT_SD, print_belief
from capture.errors import PlainError
from capture.measure import measure_wall
from capture.record import Along, Learnt, Lens, PrintRun, Tape, Wall
from tests.conftest import CAMERA, WALL
from tests.scenes import observe
from tests.synthetic import look, photograph
from wainscribe import actions
from wainscribe.kept import keep_lens, keep_print_run, kept_file, load_kept, taught_by_others
from wainscribe.seen import search_photo

CARDS = {1: (9.5, 24.6, 1.0), 2: (66.2, 26.1, -1.3), 3: (133.0, 46.5, 0.6), 4: (9.9, 62.0, -0.4)}
TRUE = (0.9982, 1.0011)


def taught(tape=True, printed=None, seed=0):
    """A wall taped between two far cards, so that the cards' own printed scale is learnt."""
    camera = look(at=(70, 50, 126), yaw=3, pitch=3)
    seen = observe(camera, CARDS, TRUE, np.random.default_rng(seed), "photo")
    reading = Tape(start="card 1", end="card 3", along=Along.STRAIGHT, length=Fraction(12543, 100))
    wall = Wall(name="wall", tapes=(reading,) if tape else (), bow=Fraction(0))
    return measure_wall(wall, [seen], printed or PrintRun(name="march")).solution


def a_lens(f=1170.0, phone="Maker Phone"):
    tight = {k: Learnt(value=v, sd=1e-3) for k, v in (("cx", 799.5), ("cy", 599.5), ("k1", 0.02), ("k2", -0.02))}
    return Lens(phone=phone, focal_35=26.0, size=(1600, 1200), f=Learnt(value=f, sd=0.5), photos=6, **tight)


def test_what_a_long_reading_taught_is_known_in_the_next_job(tmp_path):
    printed = PrintRun(name="march")
    kept = keep_print_run(tmp_path / "first job", printed, [taught()])
    assert kept is not None
    mean, sd = belief(taught_by_others(tmp_path / "second job", "march"))
    # The tape lay across; that both were printed by one machine shows in the photo, which compares across with up.
    np.testing.assert_array_less(np.abs(mean - TRUE), 4 * sd)
    assert sd.max() < PRINT_SD / 4


def test_a_job_learns_nothing_from_itself(tmp_path):
    keep_print_run(tmp_path / "job", PrintRun(name="march"), [taught()])
    assert taught_by_others(tmp_path / "job", "march").learnt == ()


def test_only_what_the_observations_say_is_kept(tmp_path):
    """A second job that knew the scale from the first and taped nothing does not grow surer by its own echo."""
    first, second = tmp_path / "first", tmp_path / "second"
    keep_print_run(first, PrintRun(name="march"), [taught()])
    known = taught_by_others(second, "march")
    keep_print_run(second, known, [taught(tape=False, printed=known)])
    _, sd = belief(known)
    _, echoed = belief(taught_by_others(tmp_path / "third", "march"))
    # What it may add is how across compares with up, which two photos tell better than one, and nothing of the size.
    size = np.array([0.5, 0.5])
    assert spread(taught_by_others(tmp_path / "third", "march"), size) == pytest.approx(spread(known, size), rel=0.1)
    assert np.all(echoed <= sd)
    # One that taped as well: two readings are surer than one, by √2 where the tape is all that limits.
    keep_print_run(second, known, [taught(printed=known, seed=1)])
    _, both = belief(taught_by_others(tmp_path / "third", "march"))
    assert both[0] == pytest.approx(sd[0] / np.sqrt(2), rel=0.1)


def belief(printed):
    """Mean and standard deviations of a printed scale beforehand."""
    mean, root = print_belief(printed)
    return mean, np.sqrt(np.diag(np.linalg.inv(root.T @ root)))


def spread(printed, way):
    _, root = print_belief(printed)
    return float(np.sqrt(way @ np.linalg.inv(root.T @ root) @ way))


def test_a_run_that_nobody_named_is_not_kept(tmp_path):
    assert keep_print_run(tmp_path / "job", PrintRun(), [taught()]) is None
    assert not kept_file().exists()


def test_a_later_calibration_takes_the_place_of_the_earlier_of_the_same_lens():
    for lens in (a_lens(1171), a_lens(1300, "Other"), a_lens(1169)):
        keep_lens(lens)
    assert [lens.f.value for lens in load_kept().lenses] == [1300, 1169]


def test_a_damaged_file_is_named_in_a_sentence(cli, tmp_path):
    kept_file().parent.mkdir(parents=True)
    kept_file().write_text("{not json")
    result = cli("print-run", tmp_path, "--name", "march")
    assert result.exit_code == 1
    with pytest.raises(PlainError, match=r"kept\.json cannot be read; mend it or take it away"):
        load_kept()


def test_a_job_carries_a_copy_of_the_lens_it_was_measured_with(folder, monkeypatch):
    measured = search_photo(folder, folder.load().wall(WALL).photos[0])
    keep_lens(a_lens(phone=measured.phone or "Maker Phone"))
    if not measured.phone:  # the test photo names no phone: give the search one
        monkeypatch.setattr(
            "wainscribe.actions.about.search_photo", lambda *_: measured.model_copy(update={"phone": "Maker Phone"})
        )
    assert [lens.f.value for lens in actions.take_lenses(folder)] == [1170.0]
    assert folder.load().lenses[0].f.value == 1170.0
    assert actions.take_lenses(folder) == ()  # once


def test_the_command_line_calibrates_a_lens_and_keeps_it(cli, tmp_path):
    from PIL import Image

    placed = {n: (16.0 + 22 * (n % 3), 20.0 + 26 * (n // 3), 0.0) for n in range(1, 7)}
    stands = ({"at": (40, 40, 62)}, {"at": (0, 40, 52), "yaw": 35}, {"at": (80, 38, 52), "yaw": -35},
              {"at": (40, 76, 50), "pitch": 32}, {"at": (42, 10, 52), "pitch": -28})  # fmt: skip
    files = []
    for i, stand in enumerate(stands):
        eye = look(size=(1600, 1200), f=1170.0, k1=0.02, k2=-0.02, centre=(3.0, -2.0), **stand)
        exif = Image.Exif()
        exif[0x010F], exif[0x0110] = "Maker", "Phone"
        exif.get_ifd(0x8769)[0xA405] = 26
        file = tmp_path / f"lens-{i}.jpg"
        Image.fromarray(photograph(eye, placed, seed=i)).save(file, quality=95, exif=exif)
        files.append(file)
    result = cli("lens", *files)
    assert result.exit_code == 0, result.output
    assert "Maker Phone: focal length 11" in result.stderr
    (lens,) = load_kept().lenses
    assert lens.f.value == pytest.approx(CAMERA.lens[0], abs=4 * lens.f.sd)
    assert lens.f.sd < 0.003 * lens.f.value
    refused = cli("lens", *files[:2])
    assert refused.exit_code == 1
    assert "2 photos with cards are too few for a lens" in refused.stderr
