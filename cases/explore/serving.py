"""The server itself: sockets, addresses, and the way it begins and ends."""

from __future__ import annotations

import socket
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from meltzone.cases.explore.doors import LOOPBACK, Doors, listening, own_address
from meltzone.cases.explore.state import HERE, PageState, WorkingFolder
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import EXAMPLES

SECONDS_TO_END = 1  # for answers that are under way


@dataclass(frozen=True)
class Opened:
    """A server ready to run: its `doors`, `sockets` and where it is to be found, for this machine and for others."""

    doors: Doors
    sockets: tuple[socket.socket, ...]
    app: Any
    here: str
    elsewhere: str = ""


def opened(case: str, port: int, share: bool, folder: Path) -> Opened:
    """Sockets and application for `case`, in the working `folder`; raises CaseError, also where a library is missing."""
    try:
        from meltzone.cases.explore.server import application  # optional libraries
    except ImportError as error:
        hint = "Install them: pip install 'meltzone[explore]'."
        raise CaseError("explore", None, None, error.name, "the libraries of the page", hint) from error

    place, base = WorkingFolder(folder), _base(case, folder)
    place.case(PageState(base, ()))
    address = own_address() if share else ""
    first = listening(LOOPBACK, port)
    port = first.getsockname()[1]
    sockets = (first, listening(address, port)) if address else (first,)
    doors = Doors.open(port, address)
    elsewhere = doors.address(address) if address else ""
    return Opened(doors, sockets, application(place, base, doors), doors.address(), elsewhere)


def serve(found: Opened, ready: Callable[[], None]) -> None:
    """Answer until the process is told to end; `ready` is called once, before the first answer."""
    import uvicorn  # an optional library

    config = uvicorn.Config(
        found.app, log_level="error", access_log=False, lifespan="off", timeout_graceful_shutdown=SECONDS_TO_END,
        server_header=False, date_header=False,
    )  # fmt: skip
    for each in found.sockets:
        each.listen(64)
    ready()
    with suppress(KeyboardInterrupt):  # the way it is meant to end
        uvicorn.Server(config).run(sockets=list(found.sockets))


def _base(case: str, folder: Path) -> str:
    """How the page calls the case: an example's name, or a path within the folder."""
    path = Path(case) if Path(case).is_absolute() else folder / case
    if case in EXAMPLES.names and not path.is_file():
        return case
    if path.exists() and not path.resolve().is_relative_to(folder.resolve()):
        raise CaseError(case, None, None, None, "a file of the working folder", HERE)
    return str(path.resolve().relative_to(folder.resolve())) if path.exists() else case
