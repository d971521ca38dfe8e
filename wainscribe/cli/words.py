"""What all commands share: how they speak, answer and fail."""

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from capture.errors import PlainError, UnknownNameError
from capture.lengths import Unit
from capture.record import EndKind, Side
from capture.survey import Finding
from layout.bevels import fine
from wainscribe.described import JOB as JOB_MEANS
from wainscribe.folder import JobFolder


class PlainCommands(click.Group):
    """Turns every plain error into its one sentence and exit status 1; lists commands as a job goes, not by letters."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """In the order in which they were added."""
        return list(self.commands)

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command."""
        try:
            return super().invoke(ctx)
        except UnknownNameError as error:
            adds = " “wainscribe wall” adds one." if error.what == "wall" and not error.near else ""
            raise click.ClickException(f"{error}{adds}") from None
        except PlainError as error:
            raise click.ClickException(str(error)) from None
        except click.UsageError as error:
            loose = re.search(r"\(.*?(\d+/\d+.*?)\)", error.message)
            if not loose:
                raise
            hint = f"{error.message}; a length of several words goes in quotes, such as '15 {loose[1]}'."
            raise click.UsageError(hint, error.ctx) from None


def say(text: str) -> None:
    """Say something to the person."""
    click.echo(text, err=True)


def tell_findings(findings: Sequence[Finding]) -> None:
    """Say what the program noticed, with what to do; what two walls share is said once."""
    for line in dict.fromkeys(f"{f.grade}: {f.sentence} {f.remedy}".rstrip() for f in findings):
        say(line)


def answer(data: Any) -> None:
    """Print a result as JSON."""
    click.echo(json.dumps(data, indent=1, allow_nan=False))


JOB = click.argument("job", type=click.Path(path_type=Path))

AS_JSON = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON on standard output.")

ENDS = click.Choice([kind.value for kind in EndKind])

SIDES = click.Choice([side.value for side in Side])


def examples(*lines: str) -> str:
    """What a command's help ends with: lines that work as they stand; `tests/test_help.py` runs each."""
    return "\n".join(["\b", "Examples:", *(f"  {line}" for line in lines)])


def one_of(kinds: type[StrEnum]) -> dict[str, Any]:
    """What an option takes that is one of these, or unknown; "" comes out for that, which clears it."""
    choice = click.Choice([*(kind.value for kind in kinds), "unknown"])
    return {"type": choice, "callback": lambda _ctx, _param, value: "" if value == "unknown" else value}


def given_options(options: dict[str, Any]) -> dict[str, Any]:
    """The options that were given; one given as '' clears its value."""
    return {k: None if v == "" and k != "note" else v for k, v in options.items() if v is not None}


def show_given(noted: Mapping[str, str], given: Iterable[str], record: str = "") -> None:
    """Show the settings that were given, as they are noted now; all of them, with what each means, if none was."""
    keys = dict.fromkeys(given)
    for key in keys or noted:
        shown = f"{key}: {noted.get(key, 'not noted')}".rstrip()
        meaning = "" if keys else JOB_MEANS.get(f"{record}.{key}", "")
        click.echo(f"{shown:<32}  {meaning}" if meaning else shown)


def unit_of(folder: JobFolder) -> Unit:
    """The unit that the job speaks in."""
    return Unit(folder.load().units)


def instead(before: Fraction | None, now: Fraction | None, unit: Unit) -> str:
    """What a length was before, where it was noted."""
    if before is None or now is None:
        return ""
    return " (as before)" if before == now else f" (in place of {fine(before, unit)})"


def say_gone(job: Path, what: str) -> None:
    """Say that something was taken away, and how to have it back."""
    say(f"{what} is gone; “wainscribe undo {job}” brings it back.")
