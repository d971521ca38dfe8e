"""Commands that plan, and make the papers."""

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import click

from layout.frames import Frame
from layout.plan import Plan
from layout.scheme import Scheme
from report.numbers import in_the_way
from wainscribe import actions, told
from wainscribe.cli.words import AS_JSON, JOB, answer, examples, say, show_given, tell_findings
from wainscribe.folder import JobFolder
from wainscribe.names import printable
from wainscribe.papers import make_papers
from wainscribe.params import SETTING


@click.command(
    epilog=examples(
        "wainscribe scheme miller top=36 panel_width=24 'panels.long wall=5'",
        "wainscribe scheme miller 'pin.receptacle 1=move'",
        "wainscribe scheme miller --other dark paint=navy top=42",
    )
)
@JOB
@click.argument("settings", type=SETTING, nargs=-1)
@click.option("--other", metavar="NAME", help="Another way, shown to the customer beside it; no settings forgets it.")
def scheme(job: Path, settings: tuple[tuple[str, str], ...], other: str | None) -> None:
    """Set what is wanted, KEY=VALUE, or show all of it.

    Such as: stile='3 1/2' top=36 panel_width=24 moulding=7/8 reveal=1/4 'panels.long wall=5'. KEY= alone goes back
    to the usual value. By name: 'panels.RUN=5', 'pin.THING=move' (clear, move, move left,
    move right, leave, extend or block out), 'stile_at.RUN=centre, 48' and 'no_stile.RUN=30 to 34, stud 2'. The
    order that makes one plan better than another: preferences='width, conflicts, moves, match, doubts, nudge, panels'.
    """
    folder = JobFolder(job)
    if other is not None:
        noted = actions.set_alternative(folder, printable(other), dict(settings))
        say(f"“{other}” is {'noted' if noted else 'forgotten'}.")
        return
    wanted = actions.set_scheme(folder, dict(settings)) if settings else folder.load().wanted
    show_given(dict(_settings(wanted)), dict(settings), "Scheme")


def _settings(scheme: Scheme) -> Iterator[tuple[str, str]]:
    """Every setting by its key, as people read it."""
    keys = {field: key for key, field in actions.KEYED.items()}
    for field, value in scheme:
        if field in keys:
            yield from ((f"{keys[field]}.{name}", _setting(scheme, field, one)) for name, one in value.items())
        elif field != "unit":
            yield field, _setting(scheme, field, value)


def _setting(scheme: Scheme, field: str, value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(map(str, value))
    if field == "proportion":
        return f"{float(scheme.proportion):g}"
    return scheme.show(value) if isinstance(value, Fraction) else str(value)


@click.command(epilog=examples("wainscribe plan miller", "wainscribe plan miller --json"))
@JOB
@AS_JSON
def plan(job: Path, as_json: bool) -> None:
    """Plan the frames; tell every verdict and what could be done."""
    folder = JobFolder(job)
    solved, planned = actions.plan_job(folder, folder.load())
    for one in solved:
        tell_findings(one.findings)
    if as_json:
        answer(told.planned(planned))
        refuse_unplanned(planned)
        return
    for wall_plan in planned.walls:
        click.echo(wall_plan.name)
        for frame in wall_plan.frames:
            click.echo(f"  {frame.run.name}: {_panels(frame, planned.scheme)}")
        if wall_plan.judgements:
            click.echo(f"  {in_the_way(wall_plan.conflicts, wall_plan.undecided)}")
        for judgement in wall_plan.judgements:
            click.echo(f"  {judgement.verdict}: {judgement.sentence}")
            for remedy in wall_plan.remedies.get(judgement.feature, ()):
                click.echo(f"      {remedy.kind}: {remedy.sentence}")
        for joint in wall_plan.joints:
            click.echo(f"  joint: {joint.member} over {joint.stile}, at {planned.scheme.show(joint.at)}")
        for run in wall_plan.runs:
            for note in run.notes:
                click.echo(f"  note: {run.name}: {note}")
        for note in wall_plan.notes:
            if note != wall_plan.refused:
                click.echo(f"  note: {note}")
        for sentence in wall_plan.assumed:
            click.echo(f"  assumed: {sentence}")
    for choice in planned.choices:
        click.echo(choice.told(planned.scheme))
    refuse_unplanned(planned)


def _panels(frame: Frame, scheme: Scheme) -> str:
    panels = "1 panel" if frame.count == 1 else f"{frame.count} panels"
    widths = sorted({scheme.show(width): width for width in frame.spacing.openings(scheme)}.items(), key=lambda w: w[1])
    return f"{panels}, {' to '.join(dict.fromkeys((widths[0][0], widths[-1][0])))} wide"


def refuse_unplanned(planned: Plan) -> None:
    """Exit status 1 if a wall could not be planned, when all that could be told is told."""
    refused = [wall_plan.refused for wall_plan in planned.walls if wall_plan.refused]
    if refused:
        raise click.ClickException(" ".join(refused))


@click.command(epilog=examples("wainscribe papers miller", "wainscribe papers miller -o for-miller"))
@JOB
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Folder for them; JOB/papers if not given.")
def papers(job: Path, output: Path | None) -> None:
    """Make all papers and drawings."""
    for file in make_papers(JobFolder(job), output or job / "papers", say):
        click.echo(click.format_filename(file))
