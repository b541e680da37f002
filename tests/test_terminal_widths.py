"""Tables on terminals of four widths, through a pseudo-terminal: no digit, unit or name of the wide table is lost on any."""

from __future__ import annotations

import os
import re
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

if sys.platform == "win32":
    pytest.skip("pseudo-terminals", allow_module_level=True)

import fcntl
import pty
import struct
import termios
import threading

from outputs import COARSE
from rich.console import Console

import meltzone as mz
from meltzone.cases.commands.console import show
from meltzone.cases.outputs import ceilings as ceilings_page
from meltzone.cases.outputs import check as check_page
from meltzone.cases.outputs import compare as compare_page
from meltzone.cases.outputs import curve as curve_page
from meltzone.cases.outputs import design as design_page
from meltzone.cases.outputs import explain as explain_page
from meltzone.cases.outputs import materials as materials_page
from meltzone.cases.outputs import plan as plan_page
from meltzone.cases.outputs import reduce as reduce_page
from meltzone.cases.outputs import result as result_page
from meltzone.cases.outputs import sweep as sweep_page
from meltzone.cases.outputs import transient as transient_page
from meltzone.cases.outputs import validate as validate_page
from meltzone.cases.outputs.page import Page
from meltzone.cases.outputs.terminal import rendered
from meltzone.cases.studies.bench.balance import Balance

WIDTHS = (60, 80, 100, 120)
WIDE = 400
LINE = {"line.sizes": ["0.3 mm x 0.6 mm", "0.2 mm x 0.45 mm"]}
FIVE = ("short-block", "long-block", "long-nozzle-brass-sleeve", "long-nozzle-bare-fan", "short-block-285")
TOKEN = re.compile(r"[^\s█]+")


def _ceilings() -> Page:
    return ceilings_page.page_of_all([mz.ceiling(case, COARSE | LINE) for case in FIVE])


def _compared() -> Page:
    return compare_page.page(mz.compare(FIVE[:4], overrides=COARSE | LINE, volume="100 cm^3"))


def _swept(folder: Path) -> Page:
    file = folder / "sweep.toml"
    file.write_text(
        'case = "short-block"\n[vary]\n"mesh.level" = [0.25, 0.5]\n"nozzle.material" = ["brass", "copper"]\n',
        encoding="utf-8",
    )
    from meltzone.cases.studies.sweep.read import load_sweep

    return sweep_page.page(mz.sweep(load_sweep(file), folder / "sweep.sqlite", 1))


def _designed(folder: Path) -> Page:
    (folder / "base.toml").write_text('extends = "short-block"\nmesh.level = 0.25\n', encoding="utf-8")
    file = folder / "design.toml"
    file.write_text(
        'base = "base.toml"\n[aim]\nmaximise = "ceiling"\n[vary]\nnozzle.bore = ["1.95 mm", "2.1 mm"]\n',
        encoding="utf-8",
    )
    return design_page.page(mz.design(file))


def _validated(folder: Path) -> Page:
    file = folder / "measured.toml"
    row = '[[row]]\ncase = "{}"\nceiling = "{} mm^3/s"\ncalibrates = {}\nset = {{ "mesh.level" = 0.25 }}\n'
    rows = row.format("short-block", 13, "true") + row.format("long-block", 20, "false")
    file.write_text(f'title = "invented"\nuncertainty = "5 %"\n{rows}', encoding="utf-8")
    from meltzone.cases.studies.validation.measurements import load_measured

    return validate_page.page(mz.validate(load_measured(str(file))))


PAGES: dict[str, Callable[[Path], Page]] = {
    "ceiling": lambda _: _ceilings(),
    "run": lambda _: result_page.page(mz.run("long-nozzle-wrapped-fan", COARSE | LINE)),
    "compare": lambda _: _compared(),
    "explain": lambda _: explain_page.page(mz.explain("short-block-lined", COARSE)),
    "curve": lambda _: curve_page.page(mz.curve("short-block", overrides=COARSE | {"feeder.grip": "17 N"})),
    "check": lambda _: check_page.page(check_page.check("long-nozzle-wrapped-fan")),
    "plan": lambda _: plan_page.page(mz.plan("short-block", mz.Wanted(Balance(1e-5, None), 0.01, 1, 60.0, 0), COARSE)),
    "reduce": lambda _: reduce_page.page(mz.reduce(mz.load_samples("demo-sleeve"), resamples=99)),
    "transient": lambda _: transient_page.page(
        mz.transient("short-block", mz.Asked("5 mm^3/s", ("15 mm^3/s",), duration="5 s"), overrides=COARSE)
    ),
    "materials": lambda _: materials_page.list_page(),
    "card": lambda _: materials_page.card_page(materials_page.card("pla")),
    "sweep": _swept,
    "design": _designed,
    "validate": _validated,
}


@contextmanager
def _standing_in(number: int, other: int) -> Iterator[None]:
    """The file `other` under the descriptor `number`, for a while."""
    kept = os.dup(number)
    os.dup2(other, number)
    try:
        yield
    finally:
        os.dup2(kept, number)
        os.close(kept)


def _on_terminal(page: Page, columns: int, monkeypatch: pytest.MonkeyPatch) -> str:
    """What a terminal of so many columns is sent, styles left out: a real pseudo-terminal as standard output."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 50, columns, 0, 0))
    got: list[bytes] = []

    def read() -> None:
        try:
            while data := os.read(ours, 65536):
                got.append(data)
        except OSError:  # what Linux gives at the end
            return

    reader = threading.Thread(target=read)
    reader.start()
    with os.fdopen(theirs, "w", encoding="utf-8") as terminal, monkeypatch.context() as patched:
        patched.delenv("COLUMNS", raising=False)
        patched.setenv("TERM", "xterm")
        patched.setattr(sys, "stdout", terminal)
        with _standing_in(0, terminal.fileno()):  # the first of those that are asked for the size
            show(rendered(page))
    reader.join()
    os.close(ours)
    return re.sub(r"\x1b\[[0-9;?]*[A-Za-z]|\r", "", b"".join(got).decode("utf-8"))


def _in_pieces(text: str) -> Counter[str]:
    pieces = (
        piece.rstrip("-._") for token in TOKEN.findall(text) for piece in re.split(r"(?<=\w)[-._](?=[^\W\d])", token)
    )
    return Counter(filter(None, pieces))


@pytest.mark.parametrize("verb", PAGES)
def test_nothing_is_lost_at_any_width(verb: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    page = PAGES[verb](Path())
    console: Any = Console(width=WIDE, highlight=False, markup=False)
    with console.capture() as captured:
        console.print(rendered(page))
    whole = _in_pieces(captured.get())
    assert sum(whole.values()) > 20
    for width in WIDTHS:
        said = _on_terminal(page, width, monkeypatch)
        assert max(map(len, said.splitlines())) <= width
        assert "…" not in said
        lost = whole - _in_pieces(said)
        assert not lost, f"{width} columns lose {dict(lost)}\n{said}"
