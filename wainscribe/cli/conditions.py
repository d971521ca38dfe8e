"""The command for the state that the house and its walls were found in."""

from pathlib import Path

import click

from report.conditions import NAMES, in_words
from wainscribe import actions
from wainscribe.cli.words import JOB, examples, show_given, unit_of
from wainscribe.folder import JobFolder
from wainscribe.params import SETTING


@click.command(
    short_help="Note the state that walls and house were found in.",
    epilog=examples(
        "wainscribe conditions miller 'long wall' base=kept level='1/8, 6 ft level'",
        "wainscribe conditions miller wiring=conduit compound=suspected",
    ),
)
@JOB
@click.argument("words", metavar="[WALL] [KEY=VALUE]...", nargs=-1)
def conditions(job: Path, words: tuple[str, ...]) -> None:
    """Note the state that a WALL was found in, or the whole house if none is named; or show it.

    The keys: material, flat, plumb and level (a length and how it was taken, such as '1/8, 6 ft straightedge'), casing
    (how far it stands off the wall), base (kept, removed, none there), wiring (nonmetallic cable, armoured cable,
    conduit, aluminium, knob and tube), paint and compound (tested free, found, suspected), not_seen, noted. KEY= alone
    clears one.
    """
    folder = JobFolder(job)
    wall = words[0] if words and "=" not in words[0] else None
    settings = [SETTING.convert(word, None, None) for word in words[wall is not None :]]
    if settings:
        noted = actions.set_conditions(folder, wall, dict(settings))
    else:
        now = folder.load()
        noted = now.conditions if wall is None else now.wall(wall).conditions
    show_given({key: in_words(noted, key, unit_of(folder)) for key in NAMES}, dict(settings))
