"""The command line: each command parses, calls one action, and prints.

Results go to standard output, what is said to a person to standard error. Exit status 0 done, 1 could not be
done (one line says why and what to do), 2 wrong use.
"""

import click

from wainscribe.cli.conditions import conditions
from wainscribe.cli.desk import desk
from wainscribe.cli.job import about, cards, demo, lens, new, print_run, redo, schema, undo
from wainscribe.cli.marks import mark, snap, tape
from wainscribe.cli.planning import papers, plan, scheme
from wainscribe.cli.shop import cuts, yard
from wainscribe.cli.solving import locate, solve, what_next
from wainscribe.cli.walls import aside, photo, wall
from wainscribe.cli.words import PlainCommands


@click.group(cls=PlainCommands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80})
@click.version_option(package_name="wainscribe")
def main() -> None:
    """Measure walls from photographs with printed cards, plan wainscot on them, and make the papers."""


COMMANDS = (
    demo,
    desk,
    cards,
    new,
    about,
    print_run,
    wall,
    photo,
    mark,
    snap,
    tape,
    conditions,
    solve,
    what_next,
    scheme,
    plan,
    yard,
    cuts,
    papers,
    undo,
    redo,
    lens,
    aside,
    locate,
    schema,
)
for command in COMMANDS:
    main.add_command(command)
