"""What is kept from job to job, in the user's own configuration folder: calibrated lenses, and printed scales.

A job carries a copy of what it was measured with, so that its folder means the same on another machine.
"""

import hashlib
from collections.abc import Callable, Sequence
from pathlib import Path

import click
import numpy as np
from filelock import FileLock
from pydantic import Field, ValidationError

from capture.adjust import Solution
from capture.errors import PlainError
from capture.record import LearntScale, Lens, PrintRun, Record
from wainscribe.disk import plain_disk_errors, write_whole

UNNAMED = "first"  # what a print run is called that nobody named: the next one is called so too, so nothing is kept
WORTH_KEEPING = 0.0015  # of the printed scale: half of what is known of any printer


class Kept(Record):
    """All that is kept."""

    lenses: tuple[Lens, ...] = ()
    print_runs: dict[str, dict[str, LearntScale]] = Field(default_factory=dict)  # by name, then by job


def kept_file() -> Path:
    """Where it is kept."""
    return Path(click.get_app_dir("wainscribe")) / "kept.json"


def load_kept() -> Kept:
    """What is kept, or nothing yet."""
    file = kept_file()
    try:
        return Kept.model_validate_json(file.read_bytes())
    except FileNotFoundError:
        return Kept()
    except (OSError, ValidationError):
        raise PlainError(f"{file} cannot be read; mend it or take it away, then calibrate again.") from None


def keep_lens(lens: Lens) -> None:
    """Keep a calibration in place of an earlier one of the same phone, zoom and size."""

    def edit(kept: Kept) -> Kept:
        same = (lens.phone, lens.focal_35, lens.size)
        others = [k for k in kept.lenses if (k.phone, k.focal_35, k.size) != same]
        return kept.model_copy(update={"lenses": (*others, lens)})

    _change(edit)


def keep_print_run(job: Path, printed: PrintRun, solutions: Sequence[Solution]) -> LearntScale | None:
    """Keep what a job taught of its print run, in place of what it taught before; None if that is not worth it."""
    shown = [s for s in solutions if s.net.shots and s.converged]
    if printed.name == UNNAMED or not shown:
        return None
    learnt = _learnt(shown[0])
    if np.linalg.eigvalsh(np.array(learnt.information)).max() < WORTH_KEEPING**-2:
        return None

    def edit(kept: Kept) -> Kept:
        run = {**kept.print_runs.get(printed.name, {}), _key(job): learnt}
        return kept.model_copy(update={"print_runs": {**kept.print_runs, printed.name: run}})

    _change(edit)
    return learnt


def _learnt(solution: Solution) -> LearntScale:
    """What the observations alone say of the printed scale: the estimate less what was known beforehand."""
    where, net = solution.slots.printed, solution.net
    after = np.linalg.inv(solution.covariance[where, where])
    before = net.print_root.T @ net.print_root
    (a, b), (_, c) = after - before
    vector = after @ solution.unknowns[where] - before @ net.print_mean
    return LearntScale(information=((a, b), (b, c)), vector=(float(vector[0]), float(vector[1])))


def taught_by_others(job: Path, name: str) -> PrintRun:
    """The print run of that name as other jobs know it."""
    run = load_kept().print_runs.get(name, {}) if name != UNNAMED else {}
    return PrintRun(name=name, learnt=tuple(learnt for key, learnt in sorted(run.items()) if key != _key(job)))


def _key(job: Path) -> str:
    """Tells jobs apart without saying where they lie."""
    return hashlib.sha256(str(job.resolve()).encode()).hexdigest()[:16]


def _change(edit: Callable[[Kept], Kept]) -> None:
    file = kept_file()
    with plain_disk_errors(file):
        file.parent.mkdir(parents=True, exist_ok=True)
        with FileLock(f"{file}.lock", timeout=10):
            write_whole(file, edit(load_kept()).model_dump_json(indent=1))
