"""What is shown of what is shipped: the name of every case, sweep, measured file and demonstration, with a line each."""

from __future__ import annotations

from collections.abc import Callable

from meltzone.cases.inputs.files import Shelf, read_layer
from meltzone.cases.inputs.reader import EXAMPLES
from meltzone.cases.outputs.grid import Grid, counted, words
from meltzone.cases.outputs.page import Head, Page, Words
from meltzone.cases.studies.bench.samples_csv import DEMONSTRATIONS, load_samples
from meltzone.cases.studies.sweep.read import SWEEPS
from meltzone.cases.studies.validation.measurements import MEASURED

HOW = "meltzone run NAME solves a case; meltzone new my.toml --like NAME begins a file of your own on top of it."


def page() -> Page:
    """Everything on the shelves, by what it is for."""
    return Page((
        Head("What is shipped"),
        _listed("Cases: run, ceiling, compare, explain and others", EXAMPLES, _title),
        _listed("Sweeps: meltzone sweep", SWEEPS, _title),
        _listed("Measured ceilings: meltzone validate", MEASURED, _title),
        _listed("Invented weighings: meltzone reduce, curve --measured", DEMONSTRATIONS, _series),
        Words(HOW),
    ), "examples")  # fmt: skip


def _listed(caption: str, shelf: Shelf, line: Callable[[Shelf, str], str]) -> Grid:
    return Grid(caption, words("name", "what it is"), tuple((name, line(shelf, name)) for name in shelf.names))


def _title(shelf: Shelf, name: str) -> str:
    return str(read_layer(shelf.source(name)).data.get("title", ""))


def _series(shelf: Shelf, name: str) -> str:
    read = load_samples(name)
    series = ", ".join(f"{each.name} ({counted(len(each.samples), 'sample')})" for each in read.series)
    return f"{series}: invented, nobody has measured this"
