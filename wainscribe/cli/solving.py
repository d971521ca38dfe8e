"""Commands that measure: solve, next, locate."""

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click
import numpy as np

from capture.errors import PlainError
from capture.lengths import Unit, show_length, show_spread
from capture.record import TRAITS, Kind, Shape, Side
from capture.survey import MISFITS, Feature, Finding
from layout.plan import Plan
from layout.verdicts import Verdict
from report.tables import lower_edges
from wainscribe import actions, told
from wainscribe.cli.words import AS_JSON, JOB, answer, examples, say, tell_findings, unit_of
from wainscribe.folder import JobFolder
from wainscribe.job import Job
from wainscribe.kept import keep_print_run
from wainscribe.names import printable


@click.command(
    short_help="Tell what stands where, with plus-or-minus.",
    epilog=examples("wainscribe solve miller", "wainscribe solve miller 'long wall' --json"),
)
@JOB
@click.argument("walls", nargs=-1)
@AS_JSON
def solve(job: Path, walls: tuple[str, ...], as_json: bool) -> None:
    """Adjust the walls (all if none is named) and tell what stands where."""
    folder = JobFolder(job)
    loaded = folder.load()
    if not loaded.walls:
        raise actions.no_wall_yet(folder)
    solved = actions.solve_job(folder, loaded, walls, (lambda _: None) if as_json else say)
    _keep(job, loaded, solved)
    tell_findings([finding for one in solved for finding in one.findings])
    if as_json:
        answer({"walls": [told.solved(one) for one in solved]})
        return
    for one in solved:
        survey = one.measured.survey
        width = survey.width.show(Unit(loaded.units)) if survey.width else "width not known"
        by = f"; lens of {survey.lens}" if survey.lens else ""
        click.echo(f"{survey.name}: {width}; level by {survey.level}{by}.")
        for feature in survey.features:
            if not (feature.kind is Kind.WALL_END and feature.mark.side is Side.LEFT):  # where measuring starts
                click.echo(f"  {feature.name}: {_where(feature, Unit(loaded.units), _origin(one.findings))}")
        for reading in survey.readings:
            if reading.noticed is not None:
                click.echo(f"  taped {reading.told(Unit(loaded.units))}")
        if alone := sum(reading.noticed is None for reading in survey.readings):
            click.echo(
                f"  {alone} tape {'reading stands' if alone == 1 else 'readings stand'} with nothing to check by."
            )
        if survey.corner:
            click.echo(f"  right corner: {survey.corner.told(Unit(loaded.units))}")
        for check in survey.checks:
            click.echo(f"  held back, {check.told(Unit(loaded.units))}")


def _keep(job: Path, loaded: Job, solved: Sequence[actions.SolvedWall]) -> None:
    """Keep what the job taught of its print run, unless something does not fit together."""
    if any(finding.code in MISFITS for one in solved for finding in one.findings):
        return
    if keep_print_run(job, loaded.print_run, [one.measured.solution for one in solved]):
        say(f"What this job taught of the scale of print run “{loaded.print_run.name}” is kept for the next.")


def _origin(findings: Sequence[Finding]) -> tuple[str, str]:
    """From where places across and up are counted."""
    missing = {finding.code for finding in findings}
    return (
        "a card, not from the left end" if "no-left-end" in missing else "the left end",
        "a card, not the floor" if "no-floor" in missing else "the floor",
    )


def _where(feature: Feature, unit: Unit, origin: tuple[str, str]) -> str:
    parts = []
    if feature.across is not None:
        parts.append(f"{feature.across.show(unit)} from {origin[0]}")
    if feature.up is not None:
        parts.append(f"{feature.up.show(unit)} above {origin[1]}")
    sides = (feature.left, feature.right), (feature.bottom, feature.top)
    if feature.rectangle:
        size = " × ".join(show_length(high.value - low.value, unit) for low, high in sides if low and high)
        parts.append(f"{size} in size")
    parts += [f"{name} {line.show(unit)} above {origin[1]}" for name, line in lower_edges(feature)]
    lacks = ": tape its edges, or its width and height" if TRAITS[feature.kind].shape is Shape.RECTANGLE else ""
    return ", ".join(parts) or f"not measured yet{lacks}"


@click.command("next", short_help="Tell what to tape or photograph next.", epilog=examples("wainscribe next miller"))
@JOB
@AS_JSON
def what_next(job: Path, as_json: bool) -> None:
    """Tell what to tape or photograph next: what would settle most of what is too close to tell."""
    folder = JobFolder(job)
    solved, plan = actions.plan_job(folder, folder.load())
    steps, first = actions.what_next(solved, plan), actions.first_reading(solved)
    also = actions.sills_to_tape(solved, plan)
    if as_json:
        answer(told.steps(first, also, steps))
        return
    unmeasured = [
        f"{wall.name}: {j.tape_this}"
        for wall in plan.walls
        for j in wall.undecided
        if j.verdict is Verdict.TOO_CLOSE and not j.sd
    ]
    told_steps = [f"{s.wall}: {s.told(plan.scheme.unit)}" for s in steps]
    lines = [*([first] if first else []), *also, *unmeasured, *told_steps]
    for line in lines:
        click.echo(line)
    refused = [wall.refused for wall in plan.walls if wall.refused]
    for sentence in refused:
        say(f"stop: {sentence}")
    bare = actions.unmarked(solved)
    if bare:
        say(f"Nothing is marked yet on {', '.join(f'“{name}”' for name in bare)}: {HOW_TO_MARK}")
    if not lines and not refused and len(bare) < len(solved):
        say(_nothing_to_measure(plan))


HOW_TO_MARK = "mark what stands there in a photo, or by tape; “wainscribe mark --help” shows both."


def _nothing_to_measure(plan: Plan) -> str:
    close = [
        f"{wall.name}: {j.feature}" for wall in plan.walls for j in wall.undecided if j.verdict is Verdict.TOO_CLOSE
    ]
    if not close:
        return "Nothing is too close to tell."
    return f"Too close to tell, and no one reading would settle it: {', '.join(close)}. Shift a stile or pin it."


@click.command(
    short_help="Tell where pixels of a photo lie on the wall.",
    epilog=examples("wainscribe locate miller 'long wall' --photo IMG_2041 \\", "    --points points.csv --tap-sd 2"),
)
@JOB
@click.argument("wall")
@click.option("--photo", "photo_name", required=True, help="The photo that the pixels are in.")
@click.option("--points", type=click.Path(path_type=Path), required=True, help="CSV with columns name,u,v[,z].")
@click.option(
    "--tap-sd",
    type=click.FloatRange(0, 200),
    metavar="PIXELS",
    default=0.0,
    help="How unsure the points themselves are.",
)
@AS_JSON
def locate(job: Path, wall: str, photo_name: str, points: Path, tap_sd: float, as_json: bool) -> None:
    """Tell where pixels of a photo lie on the wall, with their joint covariance."""
    if np.isnan(tap_sd):
        raise click.UsageError("--tap-sd must be a number of pixels.")
    names, pixels, z = _read_points(points)
    xy, covariance = actions.locate(JobFolder(job), wall, photo_name, pixels, z, tap_sd)
    if as_json:
        answer(told.located(names, xy, covariance))
        return
    unit = unit_of(JobFolder(job))
    spread = 1.959964 * np.sqrt(np.diag(covariance)).reshape(-1, 2)
    for name, at, give in zip(names, xy, spread, strict=True):
        across, up = (
            f"{show_length(float(a), unit)} {show_spread(float(g), unit)}" for a, g in zip(at, give, strict=True)
        )
        click.echo(f"{name}: {across} across, {up} up")


COLUMNS = "its columns are name,u,v and, if proud, z in inches"


def _read_points(file: Path) -> tuple[list[str], np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    try:
        with open(file, newline="", encoding="utf-8-sig") as lines:
            rows = list(csv.DictReader(lines))
    except OSError as error:
        raise PlainError(f"{file} cannot be read ({error.strerror}); check its name.") from None
    except (UnicodeDecodeError, csv.Error):
        raise PlainError(f"{file} is not a CSV file in UTF-8; {COLUMNS}.") from None
    if not rows:
        raise PlainError(f"{file} holds no points; {COLUMNS}.")
    if missing := [column for column in ("name", "u", "v") if column not in rows[0]]:
        raise PlainError(f"{file} has no column {missing[0]}; {COLUMNS}.")
    names, values = [], []
    for number, row in enumerate(rows, start=2):
        try:
            value = [float(row["u"]), float(row["v"]), float(row.get("z") or 0.0)]
            names.append(printable(row["name"]))
        except (TypeError, ValueError):
            raise PlainError(
                f"Line {number} of {file} is not name,u,v[,z] in numbers; mend it and try again."
            ) from None
        if not np.all(np.isfinite(value)):
            raise PlainError(f"Line {number} of {file} holds a number that is not finite; mend it and try again.")
        values.append(value)
    table = np.array(values)
    return names, table[:, :2], table[:, 2]
