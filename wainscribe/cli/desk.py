"""The command that opens the pages."""

from pathlib import Path

import click

from wainscribe.cli.words import examples, say


@click.command(
    short_help="Open the pages in a browser, on the phone too.",
    epilog=examples("wainscribe desk miller", "wainscribe desk jobs --port 8700 --no-browser"),
)
@click.argument("place", metavar="JOB-OR-FOLDER", type=click.Path(path_type=Path))
@click.option(
    "--port", type=click.IntRange(1, 65535), metavar="NUMBER", default=8610, show_default=True, help="Where it listens."
)
@click.option("--no-browser", is_flag=True, help="Do not open the browser.")
def desk(place: Path, port: int, no_browser: bool) -> None:
    """Open the pages in a browser, for this machine and for the phone on the same network.

    JOB-OR-FOLDER is one job, or a folder of jobs.
    """
    from wainscribe.desk.serve import serve  # no other command needs a server

    serve(place, port, not no_browser, say)
