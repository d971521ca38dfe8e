"""The desk brought up: one port of this machine, open to its own network, and the browser shown the way."""

import logging
import socket
import webbrowser
from pathlib import Path
from threading import Timer

import click
import waitress

from capture.errors import PlainError
from wainscribe.actions import Tell
from wainscribe.desk.api import MOST_PHOTO_BYTES
from wainscribe.desk.app import create_app
from wainscribe.desk.guard import Guard
from wainscribe.desk.phone import own_addresses

PORT = 8610
THREADS = 32  # who waits for news or for a solve holds one each; the others answer what is asked for meanwhile
CONNECTIONS = 60
AHEAD = 1  # requests read from a connection that is being answered: so it is noticed when the page gives one up


def serve(place: Path, port: int, browser: bool, tell: Tell) -> None:
    """Serve a job, or a folder of jobs, until stopped.

    Raises
    ------
    PlainError
        There is no such folder, or the port is taken.
    """
    addresses = tuple(f"http://{address}:{port}" for address in own_addresses())
    guard = Guard(Path(click.get_app_dir("wainscribe")) / "desk.json")
    app = create_app(place, guard, addresses)
    logging.getLogger("waitress").setLevel(logging.ERROR)  # its lines name peers
    try:
        server = waitress.create_server(
            app, listen=f"0.0.0.0:{port}", threads=THREADS, connection_limit=CONNECTIONS, ident=None,
            max_request_body_size=MOST_PHOTO_BYTES + 100_000, channel_timeout=60,
            channel_request_lookahead=AHEAD,
        )  # fmt: skip
    except OSError as error:
        raise PlainError(_why_not(error, port)) from None
    here = f"http://127.0.0.1:{port}/"
    tell(f"The desk is open at {here}; close it with Ctrl-C.")
    if addresses:
        tell(f"For the phone on the same network, open {here}phone on this machine and scan the code.")
    else:
        tell("This machine is on no network just now, so no phone can reach it; the desk works here all the same.")
    if browser:
        Timer(0.3, webbrowser.open, [here]).start()
    server.run()


def _why_not(error: OSError, port: int) -> str:
    if isinstance(error, socket.gaierror):
        return f"Port {port} cannot be opened ({error.strerror}); give another with --port."
    if error.errno in (13,):
        return f"Port {port} may not be opened; give one above 1023 with --port."
    return f"Port {port} is taken, perhaps by a desk that is open already; close that, or give another with --port."
