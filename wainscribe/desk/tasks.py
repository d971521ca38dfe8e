"""Long work with progress: one at a time for each job, in a thread of its own."""

import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock, Thread

from capture.errors import PlainError
from wainscribe.actions import Tell
from wainscribe.folder import JobFolder

Work = Callable[[Tell], list[str]]  # told how far it is; the names of the files made

MOST_REMEMBERED = 50
MOST_LINES = 500


@dataclass
class Task:
    """One piece of work under way, or done."""

    about: str  # the job
    said: list[str] = field(default_factory=list)
    files: list[str] = field(default_factory=list)
    failed: str = ""
    done: bool = False

    def tell(self, line: str) -> None:
        """Say how far it is."""
        if len(self.said) < MOST_LINES:
            self.said.append(line)


class Tasks:
    """All work that was asked for."""

    def __init__(self) -> None:
        self.by_id: dict[str, Task] = {}
        self.lock = Lock()

    def start(self, about: str, work: Work) -> str:
        """Start work on a job, or join what is under way for it; its id."""
        with self.lock:
            for known, task in self.by_id.items():
                if task.about == about and not task.done:
                    return known
            task, name = Task(about), secrets.token_urlsafe(12)
            self.by_id = dict([*self.by_id.items(), (name, task)][-MOST_REMEMBERED:])
        Thread(target=_run, args=(task, work), daemon=True).start()
        return name


def _run(task: Task, work: Work) -> None:
    try:
        task.files = work(task.tell)
    except PlainError as error:
        task.failed = str(error)
    except Exception:  # whoever asked must hear that it ended
        task.failed = "Something went wrong in the desk itself; try again."
    finally:
        task.done = True


def papers_of(folder: JobFolder) -> list[Path]:
    """The papers that a job has, by name."""
    where = folder.path / "papers"
    return sorted(p for p in where.iterdir() if p.is_file() and p.name[0] != ".") if where.is_dir() else []
