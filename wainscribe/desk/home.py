"""The jobs of one folder, by name: a name that the listing does not hold opens nothing."""

from dataclasses import dataclass
from pathlib import Path

from capture.errors import PlainError, UnknownNameError
from wainscribe.actions import ActionError, new_job
from wainscribe.disk import file_stem
from wainscribe.folder import JobFolder

MOST_JOBS = 500


@dataclass(frozen=True)
class Home:
    """A folder of jobs, or one job folder."""

    place: Path

    @classmethod
    def at(cls, place: Path) -> "Home":
        """The home at a path.

        Raises
        ------
        PlainError
            There is no such folder.
        """
        if not place.is_dir():
            raise PlainError(f"There is no folder {place}; make it, or a job in it with “wainscribe new {place}”.")
        return cls(place.resolve())

    @property
    def single(self) -> bool:
        """Whether it is one job folder."""
        return (self.place / "job.json").exists() or (self.place / "history").exists()

    def jobs(self) -> dict[str, JobFolder]:
        """The job folders by name, in order."""
        if self.single:
            return {self.place.name: JobFolder(self.place)}
        found = sorted(p for p in self.place.iterdir() if (p / "job.json").is_file() and _speakable(p.name))
        return {path.name: JobFolder(path) for path in found[:MOST_JOBS]}

    def job(self, name: str) -> JobFolder:
        """The job folder of that name; UnknownNameError if there is none."""
        jobs = self.jobs()
        if name not in jobs:
            raise UnknownNameError("job", name, list(jobs))
        return jobs[name]

    def new(self, name: str, sent: str = "") -> str:
        """Make a new job in the folder, once for the id it was sent with; the name of its folder."""
        if self.single:
            raise ActionError("This desk was opened on one job; open it on a folder of jobs to make another.")
        jobs = self.jobs()
        for known, folder in jobs.items():
            if sent and folder.answer(sent) is not None:
                return known
        if len(jobs) >= MOST_JOBS:
            raise ActionError(f"This folder holds {MOST_JOBS} jobs; move finished ones elsewhere.")
        stem = file_stem(name, "job").lower()
        for n in range(1, MOST_JOBS + 2):
            path = self.place / (stem if n == 1 else f"{stem}-{n}")
            if not path.exists():
                new_job(path, name, sent)
                break
        return path.name

    def without_paths(self, sentence: str) -> str:
        """A sentence fit to leave this machine: without the folders that its files lie in."""
        for root in (self.place, Path.home()):
            sentence = sentence.replace(f"{root}/", "").replace(f"{root}\\", "").replace(str(root), root.name)
        return sentence


def _speakable(name: str) -> bool:
    try:
        name.encode()
    except UnicodeEncodeError:  # bytes that are no text
        return False
    return not name.startswith(".")
