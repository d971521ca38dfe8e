"""Where a phone on the same network finds the desk, as addresses and as a code to scan."""

import socket
from io import BytesIO

import segno

# Documentation addresses (RFC 5737): nothing is sent there, but the system says which of its own it would send from.
NOWHERE = ("192.0.2.1", 9)


def own_addresses() -> tuple[str, ...]:
    """Addresses of this machine on its networks, the likeliest first; none without a network."""
    found = []
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.connect(NOWHERE)
            found.append(str(probe.getsockname()[0]))
    except OSError:
        pass
    try:
        found += [str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    except OSError:
        pass
    return tuple(dict.fromkeys(a for a in found if not a.startswith(("127.", "0."))))


def code_of(text: str) -> str:
    """A QR code (ISO/IEC 18004) as an SVG element."""
    out = BytesIO()
    segno.make(text, error="m", micro=False).save(
        out, kind="svg", xmldecl=False, svgns=True, border=4, dark="#000", light="#fff", omitsize=True,
        title="Code for the phone's camera",
    )  # fmt: skip
    return out.getvalue().decode()
