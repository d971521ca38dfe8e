"""The demo job: a room of our own invention, from photos to papers."""

import shutil
from pathlib import Path

from capture.errors import PlainError
from wainscribe.actions import Tell
from wainscribe.disk import plain_disk_errors
from wainscribe.folder import JobFolder
from wainscribe.papers import make_papers


def demo_source() -> Path:
    """Where the demo's photos and job lie in a checkout."""
    folder = Path(__file__).parent.parent / "fixtures" / "demo"
    if not (folder / "job.json").exists():
        raise PlainError("The demo's photos come with a checkout of wainscribe, not with the package; run it there.")
    return folder


def make_demo(folder: Path, tell: Tell) -> list[Path]:
    """Copy the demo job into a new folder and make its papers; the files made."""
    source = demo_source()
    with plain_disk_errors(folder):
        if folder.exists() and any(folder.iterdir()):
            raise PlainError(f"{folder} is not empty; name a new folder for the demo.")
        (folder / "history").mkdir(parents=True, exist_ok=True)
        shutil.copytree(source / "photos", folder / "photos")
        shutil.copy(source / "job.json", folder / "job.json")
    walls = JobFolder(folder).load().walls
    tell(f"The demo job is in {folder}: {len(walls)} walls, {sum(len(w.photos) for w in walls)} photos.")
    return make_papers(JobFolder(folder), folder / "papers", tell)
