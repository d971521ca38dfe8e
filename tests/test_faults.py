"""Every action, with the disk failing or the program dying at each of its steps in turn."""

import errno
import os
import shutil
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest

from capture.errors import PlainError
from capture.record import Along, Kind, Mark, Tape
from tests.conftest import WALL
from tests.faults import Died, Disk, failing
from wainscribe import actions
from wainscribe.folder import JobFolder

Act = Callable[[JobFolder], object]
TAPE = Tape(start="left end", end="stud 1", length=Fraction(30), along=Along.ACROSS)


def take_photo_in(photo: Path) -> Act:
    return lambda folder: actions.add_photo(folder, WALL, photo)


@pytest.fixture
def acts(photos) -> dict[str, Act]:
    """One of each kind of change."""
    stud = Mark(name="stud 1", kind=Kind.STUD)
    return {
        "wall": lambda folder: actions.set_wall(folder, "short wall", None, {"width": "40"}),
        "mark and tape": lambda folder: actions.add_mark(folder, WALL, stud, [TAPE]),
        "scheme": lambda folder: actions.set_scheme(folder, {"stile": "3"}),
        "photo": take_photo_in(photos["card 3"]),
        "undo": lambda folder: folder.undo(),
    }


ACTS = ("wall", "mark and tape", "scheme", "photo", "undo")


@pytest.fixture
def afresh(job, tmp_path):
    """A new copy of the job folder, each time."""

    def copy() -> JobFolder:
        shutil.rmtree(tmp_path / "copy", ignore_errors=True)
        return JobFolder(Path(shutil.copytree(job, tmp_path / "copy")))

    return copy


def steps_of(act: Act, folder: JobFolder) -> list[tuple[str, str]]:
    """The calls that an action makes, and the job after it."""
    with failing(Disk()) as disk:
        act(folder)
    return disk.asked


def originals(folder: JobFolder) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in folder.photos.iterdir() if not p.name.startswith(".")}


@pytest.mark.parametrize("name", ACTS)
def test_dying_at_any_step_leaves_the_job_before_or_after_and_in_working_order(name, acts, afresh):
    folder = afresh()
    before, photos_before = folder.load(), originals(folder)
    steps = steps_of(acts[name], folder)
    after, photos_after = folder.load(), originals(folder)
    assert len(steps) >= 3
    for step in range(len(steps)):
        folder = afresh()
        with failing(Disk(at=step)), pytest.raises(Died):
            acts[name](folder)
        assert folder.load() in (before, after), steps[step]
        assert originals(folder) in (photos_before, photos_after), steps[step]  # no half photo
        actions.set_about(folder, {"customer": "next"})  # the lock left behind is no hindrance
        assert folder.load().customer == "next"
        assert not [p for p in folder.path.iterdir() if p.suffix == ".tmp"], steps[step]
        folder.undo()
        assert folder.load() in (before, after), steps[step]


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EROFS])
@pytest.mark.parametrize("name", ACTS)
def test_a_disk_that_refuses_any_step_is_told_and_the_job_is_before_or_after(name, number, acts, afresh):
    folder = afresh()
    before = folder.load()
    steps = steps_of(acts[name], folder)
    after = folder.load()
    for step in range(len(steps)):
        folder = afresh()
        with failing(Disk(at=step, how=lambda: OSError(number, os.strerror(number)))):
            try:
                acts[name](folder)
                told = ""
            except PlainError as error:
                told = str(error)
        now = folder.load()
        assert now in (before, after), steps[step]
        assert now == after or told, steps[step]  # what was not done is told
        assert now == before or "nothing was changed" not in told, steps[step]
        assert "Traceback" not in told
        assert "\n" not in told
        acts[name](folder)
        assert folder.load().model_dump() == after.model_dump() or name == "undo", steps[step]


@pytest.mark.parametrize("name", ACTS)
def test_what_is_renamed_into_place_was_synced_before_and_its_folder_after(name, acts, afresh, monkeypatch):
    """So that a power cut finds either the old file or the whole new one (POSIX fsync, rename)."""
    told: list[tuple[str, str]] = []
    real_fsync, real_replace = os.fsync, os.replace

    def fsync(handle: int) -> None:
        told.append(("sync", os.path.realpath(f"/proc/self/fd/{handle}")))
        real_fsync(handle)

    def replace(source: str | Path, target: str | Path) -> None:
        told.append(("from", os.path.realpath(source)))
        told.append(("to", os.path.realpath(target)))
        real_replace(source, target)

    if not Path("/proc/self/fd").exists():
        pytest.fail("this check reads /proc, which Linux has; run it there")
    folder = afresh()
    monkeypatch.setattr(os, "fsync", fsync)
    monkeypatch.setattr(os, "replace", replace)
    acts[name](folder)
    # What was found in a photo is made anew where it is lost, and waits for no disk.
    renamed = [i for i, (what, to) in enumerate(told) if what == "to" and Path(to).parent.name != "measured"]
    assert renamed
    for i in renamed:
        source, target = told[i - 1][1], told[i][1]
        kept_state = Path(source).parent.name == "history"  # undo puts back what was synced when it was kept
        assert kept_state or ("sync", source) in told[:i], target
        assert ("sync", str(Path(target).parent)) in told[i:], target
