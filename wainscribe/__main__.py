"""The way in, as ``wainscribe`` or ``python -m wainscribe``: who stops it while it is imported gets no traceback."""

import sys


def main() -> None:
    """Import the commands, which takes a second, and run the one that is asked for."""
    try:
        from wainscribe.cli import main as command
    except KeyboardInterrupt:
        sys.exit("Aborted!")  # as the commands themselves say it
    command()


if __name__ == "__main__":
    main()
