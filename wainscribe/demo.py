"""The demo job: a room of our own invention, from photos to papers."""

import shutil
from pathlib import Path

from capture.errors import PlainError
from wainscribe.actions import Tell
from wainscribe.job import JobFolder, plain_disk_errors
from wainscribe.papers import make_papers


def demo_source() -> Path:
    """Where the demo's photos and job lie: beside this file when installed, in fixtures/ in a checkout."""
    here = Path(__file__).parent
    for folder in (here / "demo", here.parent / "fixtures" / "demo"):
        if (folder / "job.json").exists():
            return folder
    raise PlainError("The demo's photos are not installed; run it from a checkout of wainscribe.")


def make_demo(folder: Path, tell: Tell) -> list[Path]:
    """Copy the demo job into a new folder and make its papers; the files made."""
    source = demo_source()
    if folder.exists() and any(folder.iterdir()):
        raise PlainError(f"{folder} is not empty; name a new folder for the demo.")
    with plain_disk_errors(folder):
        (folder / "history").mkdir(parents=True, exist_ok=True)
        shutil.copytree(source / "photos", folder / "photos")
        shutil.copy(source / "job.json", folder / "job.json")
    walls = JobFolder(folder).load().walls
    tell(f"The demo job is in {folder}: {len(walls)} walls, {sum(len(w.photos) for w in walls)} photos.")
    return make_papers(JobFolder(folder), folder / "papers", tell)
