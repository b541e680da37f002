"""Who is let in: by the address that was asked for, the page that asks, and, where others may come, the token."""

from __future__ import annotations

import ipaddress
import secrets
import socket
from collections.abc import Mapping
from dataclasses import dataclass

from meltzone.cases.inputs.errors import CaseError

LOOPBACK = "127.0.0.1"
LOCAL_NAMES = ("localhost", LOOPBACK)
TOKEN_BYTES = 32
SOMEWHERE = ("192.0.2.1", 9)  # an address for documentation (RFC 5737): the way there shows our own; nothing is sent
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; "
    "img-src 'self' data: blob:; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}


@dataclass(frozen=True)
class Doors:
    """The `port`, the `names` of this machine that may be asked for, and the `token`, '' where nobody else can come."""

    port: int
    names: tuple[str, ...] = LOCAL_NAMES
    token: str = ""

    @classmethod
    def open(cls, port: int, address: str = "") -> Doors:
        """For this machine alone, or with a fresh token for the local network at its `address`."""
        return cls(port, (*LOCAL_NAMES, address), secrets.token_urlsafe(TOKEN_BYTES)) if address else cls(port)

    @property
    def prefix(self) -> str:
        """What every path begins with."""
        return f"/{self.token}" if self.token else ""

    def address(self, name: str = LOOPBACK) -> str:
        """Where the page is."""
        return f"http://{name}:{self.port}{self.prefix}/"

    def refusal(self, path: str, headers: Mapping[str, str]) -> tuple[int, str] | None:
        """Status and reason for a request that is not let in; None for one that is.

        A foreign Host is another site's name that leads here, a foreign Origin or a fetch across sites another site's page.
        """
        hosts = {f"{name}:{self.port}" for name in self.names}
        if headers.get("host", "") not in hosts:
            return 403, "This address is not one of this program."
        origin = headers.get("origin")
        if origin is not None and origin != f"http://{headers['host']}":
            return 403, "Another page has asked; only this program's own may."
        if headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return 403, "Another site has asked; open the address by hand."
        if self.token and not secrets.compare_digest(path.lstrip("/").partition("/")[0].encode(), self.token.encode()):
            return (
                403,
                "The token is missing or old. Open the address that the program printed when it was started last.",
            )
        return None


def own_address() -> str:
    """The address of this machine in the local network; raises CaseError where it has none that is private."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(SOMEWHERE)
            found = ipaddress.ip_address(probe.getsockname()[0])
        except OSError:
            found = ipaddress.ip_address(LOOPBACK)
    if not found.is_private or found.is_loopback:
        hint = "Without --share the page is for this machine alone."
        raise CaseError("--share", None, None, str(found), "a machine in a private network", hint)
    return str(found)


def listening(name: str, port: int) -> socket.socket:
    """A socket that listens at `name`, on any free port for 0; raises CaseError where the port is taken."""
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((name, port))
    except OSError as error:
        found.close()
        reason = f"The system says: {error.strerror}. Another page may be open; --port 0 takes any that is free."
        raise CaseError("--port", None, None, str(port), "a port that is free", reason) from error
    return found
