"""The address that a phone on the same network can open, as text and as a code to point the phone at."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Iterable

EVERY_ADDRESS = ("0.0.0.0", "::", "")
ROUTES = (
    "192.0.2.1",
    "192.168.255.254",
    "10.255.255.254",
    "172.31.255.254",
)  # RFC 5737 and RFC 1918; nothing is sent
HOUSE = tuple(
    ipaddress.ip_network(net) for net in ("192.168.0.0/16", "10.0.0.0/8")
)  # RFC 1918, as routers give them
BRIDGES = ipaddress.ip_network("172.16.0.0/12")  # RFC 1918 too, and where bridges of containers usually are
ON_SCREEN = "\x1b[97;40m{}\x1b[0m"  # white on black, whatever the colours of the terminal


def best_address(found: Iterable[str]) -> str:
    """The address of this machine that a phone most likely reaches; "" where there is none.

    Those of house and works networks go before others, and the usual ones of bridges between containers come last.

    >>> best_address(["127.0.0.1", "172.17.0.1", "192.168.1.20"]), best_address(["127.0.1.1"])
    ('192.168.1.20', '')
    """
    known = [ipaddress.ip_address(text) for text in found]
    usable = [one for one in known if not (one.is_loopback or one.is_unspecified or one.is_link_local)]

    def order(one: ipaddress.IPv4Address | ipaddress.IPv6Address) -> int:
        if any(one in net for net in HOUSE):
            return 0
        return 2 if one in BRIDGES else 1

    return str(min(usable, key=order)) if usable else ""


def own_addresses() -> list[str]:
    """IPv4 addresses of this machine: those its routes lead out by, then those of its name."""
    found = []
    for there in ROUTES:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as line:
            try:
                line.connect((there, 9))  # chooses the route; a datagram socket sends nothing by it
            except OSError:
                continue
            found.append(str(line.getsockname()[0]))
    try:
        named = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
    except OSError:
        named = []
    return list(dict.fromkeys([*found, *(str(one[4][0]) for one in named)]))


def shown_host(host: str) -> str:
    """The host to print for one that is served on: one a phone can open where every address is."""
    return (best_address(own_addresses()) or "127.0.0.1") if host in EVERY_ADDRESS else host


def can_draw(encoding: str | None) -> bool:
    """Whether a terminal of this encoding has half blocks.

    >>> can_draw("utf-8"), can_draw("ascii"), can_draw(None)
    (True, False, False)
    """
    try:
        return bool("\N{UPPER HALF BLOCK}".encode(encoding or "ascii"))
    except (UnicodeEncodeError, LookupError):
        return False


def code_of(address: str, on_screen: bool) -> str:
    """The address as a QR code in half blocks; ``on_screen`` sets its colours, which a light terminal needs."""
    import io

    import segno

    drawn = io.StringIO()
    segno.make(address, error="l", micro=False).terminal(drawn, compact=True)
    lines = drawn.getvalue().splitlines()
    return "\n".join(ON_SCREEN.format(line) if on_screen else line for line in lines)
