"""How the command line speaks: progress on stderr, tables on stdout, one clear message and an exit code for what goes wrong."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TextIO

import typer

if TYPE_CHECKING:
    from rich.console import Console

PIPED_WIDTH = 110  # columns of tables that do not go to a terminal
OK, NO_ANSWER, BAD_INPUT, INTERRUPTED = 0, 1, 2, 130


class Speaker:
    """Passes on what is being done to whoever shows progress; silent until someone does."""

    def __init__(self) -> None:
        self.listener: Callable[[str], None] | None = None

    def __call__(self, what: str) -> None:
        """Pass on `what` is being done."""
        if self.listener is not None:
            self.listener(what)

    def about(self, name: str) -> Callable[[str], None]:
        """The same, with `name` before what is being done."""
        return lambda what: self(f"{name}: {what}")


@contextmanager
def answering() -> Iterator[Speaker]:
    """One clear message and an exit code for whatever can go wrong with what a person gave."""
    from meltzone.cases.commands.loading import spare_what_numbers_never_need

    spare_what_numbers_never_need()
    try:
        yield Speaker()
    except KeyboardInterrupt:
        tell("interrupted; nothing was left half-written")
        raise typer.Exit(INTERRUPTED) from None
    except Exception as error:
        code = _code_of(error)
        if code is None:
            raise
        tell(_told(error))
        raise typer.Exit(code) from None


@contextmanager
def speaking() -> Iterator[None]:
    """Streams that take every letter, an end asked for by the system taken as an interruption, faults of stdout told.

    What is printed besides the answers of commands, such as help, comes to light when the streams are emptied at the end.
    """
    from meltzone.cases.outputs.plain_text import ENCODING_FAULTS

    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:  # closed from the start: there is nobody to tell
            setattr(sys, name, open(os.devnull, "w"))  # noqa: SIM115
        getattr(sys, name).reconfigure(errors=ENCODING_FAULTS)
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        yield
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)
    except OSError as error:
        _give_up(error)
    finally:
        try:
            sys.stdout.flush()
        except OSError as error:
            _give_up(error)


def _give_up(error: OSError) -> NoReturn:
    """Say that stdout takes nothing, and end without another try at it."""
    tell(str(_unsaid(error)))
    _drop(sys.stdout)
    sys.exit(BAD_INPUT)


def _unsaid(error: OSError) -> Exception:
    from meltzone.cases.inputs.errors import CaseError

    reason = error.strerror or type(error).__name__
    return CaseError("standard output", None, None, None, "a place that takes it", f"The system says: {reason}.")


def _drop(stream: TextIO) -> None:
    """Lead what is still held for `stream` to nowhere."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def put(text: str) -> None:
    """Write `text` to stdout at once; raises CaseError where that cannot be done."""
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except OSError as error:
        _drop(sys.stdout)
        raise _unsaid(error) from error


def tell(text: str) -> None:
    """Write a message to stderr, as far as there is one."""
    with suppress(OSError):  # by no library's way, which would write UTF-8 where the stream takes less
        sys.stderr.write(f"{text}\n")
        sys.stderr.flush()


def _told(error: Exception) -> str:
    from meltzone.cases.studies.wording import NoConvergence, reason

    return reason(error) if isinstance(error, NoConvergence) else str(error)


def _code_of(error: Exception) -> int | None:
    """The exit code for an error that has its own message, None for a fault of the program."""
    from meltzone.cases.inputs.errors import CaseError
    from meltzone.fem.faults import NoConvergence
    from meltzone.materials.errors import UnknownMaterial

    if isinstance(error, NoConvergence):
        return NO_ANSWER
    return BAD_INPUT if isinstance(error, CaseError | UnknownMaterial) else None


@contextmanager
def progress(say: Speaker) -> Iterator[None]:
    """A line on stderr that says what is being done, on terminals only, gone when it is done."""
    if not sys.stderr.isatty():
        yield
        return
    from rich.console import Console

    with Console(stderr=True).status("reading") as status:
        say.listener = status.update
        yield
        say.listener = None


def overrides_of(written: list[str] | None, lines: list[str] | None = None) -> dict[str, Any]:
    """KEY=VALUE pairs and files of values as a mapping; a value that is no TOML, such as 235 degC, counts as text.

    Printed `lines` go on top.
    """
    from meltzone.cases.inputs.errors import CaseError
    from meltzone.cases.inputs.layers import typed

    found: dict[str, Any] = {}
    for item in written or []:
        key, mark, value = item.partition("=")
        if not mark and item.lower().endswith(".toml"):
            found |= _values_of(item)
            continue
        if not mark or not key.strip() or not value.strip():
            expected = "KEY=VALUE with a dotted key of a case file, or a file of values such as calibrated.toml"
            raise CaseError("--set", None, None, item, expected, 'For example --set heater.setpoint="235 degC".')
        found[key.strip()] = typed(value.strip())
    return found | ({"line.sizes": _checked_lines(lines)} if lines else {})


def _values_of(file: str) -> dict[str, Any]:
    """The values of a `file` such as calibrated.toml by dotted key; raises CaseError."""
    from meltzone.cases.inputs.errors import CaseError
    from meltzone.cases.inputs.files import found, read_layer

    data = read_layer(found(file, None, "a file of values, as meltzone validate writes calibrated.toml")).data
    if "extends" in data:
        raise CaseError(file, None, "extends", None, "values alone", "It is a case: name it as CASE, or use extends.")
    return dict(_dotted({key: value for key, value in data.items() if isinstance(value, dict)}, ""))


def _dotted(table: dict[str, Any], above: str) -> Iterator[tuple[str, Any]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _dotted(value, f"{above}{key}.")
        else:
            yield f"{above}{key}", value


def _checked_lines(written: list[str]) -> list[str]:
    from meltzone.cases.inputs.errors import CaseError
    from meltzone.cases.inputs.printed_line import line_words, printed_line
    from meltzone.materials.units import UnitError

    for each in written:
        try:
            printed_line(each)
        except UnitError as error:
            raise CaseError("--line", None, None, each, error.expected, error.hint) from error
    return [line_words(printed_line(each)) for each in written]


def _console() -> Console:
    from rich.console import Console

    width = None if sys.stdout.isatty() else PIPED_WIDTH
    return Console(width=width, markup=False, highlight=False, emoji=False)


def show(what: Any) -> None:
    """Print tables or text to stdout; raises CaseError where that cannot be done."""
    from meltzone.cases.outputs.plain_text import printable

    console = _console()
    with console.capture() as printed:
        console.print(printable(what) if isinstance(what, str) else what)
    put(printed.get())


def tell_files(folder: Path) -> None:
    """Say what lies in the folder that was written."""
    names = ", ".join(sorted(path.name for path in folder.iterdir() if path.is_file()))
    show(f"Written to {folder}: {names}")
