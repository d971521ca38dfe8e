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
from capture.record import Learnt, Lens, PrintRun, Record
from wainscribe.job import plain_disk_errors, write_whole

UNNAMED = "first"  # what a print run is called that nobody named: the next one is called so too, so nothing is kept
WORTH_KEEPING = 0.0015  # of the printed scale: half of what is known of any printer


class Taught(Record):
    """What one job taught of a print run."""

    across: Learnt | None = None
    up: Learnt | None = None


class Kept(Record):
    """All that is kept."""

    lenses: tuple[Lens, ...] = ()
    print_runs: dict[str, dict[str, Taught]] = Field(default_factory=dict)  # by name, then by job


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


def keep_print_run(job: Path, printed: PrintRun, solutions: Sequence[Solution]) -> Taught | None:
    """Keep what a job taught of its print run, in place of what it taught before; None if that is not worth it."""
    shown = [s for s in solutions if s.net.shots and s.converged]
    if printed.name == UNNAMED or not shown:
        return None
    across, up = (_taught(shown[0], axis) for axis in (0, 1))
    if across is None and up is None:
        return None
    taught = Taught(across=across, up=up)

    def edit(kept: Kept) -> Kept:
        run = {**kept.print_runs.get(printed.name, {}), _key(job): taught}
        return kept.model_copy(update={"print_runs": {**kept.print_runs, printed.name: run}})

    _change(edit)
    return taught


def _taught(solution: Solution, axis: int) -> Learnt | None:
    """What the observations alone say of a printed scale: the estimate less what was known beforehand."""
    column = solution.slots.printed.start + axis
    net = solution.net
    weight = 1.0 / float(solution.covariance[column, column]) - float(net.print_sd[axis]) ** -2
    if weight < WORTH_KEEPING**-2:
        return None
    before = float(net.print_mean[axis]) / float(net.print_sd[axis]) ** 2
    value = (float(solution.unknowns[column]) / float(solution.covariance[column, column]) - before) / weight
    return Learnt(value=value, sd=float(np.sqrt(1.0 / weight)))


def taught_by_others(job: Path, name: str) -> PrintRun:
    """The print run of that name as other jobs know it."""
    run = load_kept().print_runs.get(name, {}) if name != UNNAMED else {}
    others = [taught for key, taught in sorted(run.items()) if key != _key(job)]
    return PrintRun(
        name=name,
        learnt_across=tuple(t.across for t in others if t.across),
        learnt_up=tuple(t.up for t in others if t.up),
    )


def _key(job: Path) -> str:
    """Tells jobs apart without saying where they lie."""
    return hashlib.sha256(str(job.resolve()).encode()).hexdigest()[:16]


def _change(edit: Callable[[Kept], Kept]) -> None:
    file = kept_file()
    with plain_disk_errors(file):
        file.parent.mkdir(parents=True, exist_ok=True)
        with FileLock(f"{file}.lock", timeout=10):
            write_whole(file, edit(load_kept()).model_dump_json(indent=1))
