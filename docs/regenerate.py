"""Rewrites what the documents quote from the program: generated pages, outputs of commands, pictures. Run it from anywhere."""

from __future__ import annotations

import doctest
import os
import re
import shlex
import tempfile
from collections.abc import Callable, Iterator
from contextlib import chdir
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path
from unittest import mock

from generate import case_file_page, command_page, material_page, record_pages, sweep_page
from generate.solid import page as solid_page
from PIL import Image
from typer.testing import CliRunner

from meltzone.cases.commands import console
from meltzone.cases.commands.cli import app

ROOT = Path(__file__).resolve().parent.parent
IMAGES = ROOT / "docs" / "images"
GENERATED: dict[Path, Callable[[], str]] = {
    case_file_page.PAGE: case_file_page.reference_page,
    command_page.PAGE: command_page.command_page,
    record_pages.RESULT: record_pages.result_page,
    record_pages.COMPARE: record_pages.compare_page,
    material_page.PAGE: material_page.material_page,
    sweep_page.PAGE: sweep_page.sweep_page,
    record_pages.TRANSIENT: record_pages.transient_page,
    record_pages.RECORDS: record_pages.records_page,
    solid_page.PAGE: solid_page.solid_page,
}
WRITTEN = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(set((ROOT / "docs").glob("*.md")) - set(GENERATED))]
TUTORIAL = ROOT / "docs" / "tutorial.md"
QUESTIONS = ROOT / "docs" / "questions.md"
COLUMNS_OF = {QUESTIONS: 80}  # quoted as on a narrow terminal
TUTORIAL_PICTURES = {  # by name, the file that the page's own commands draw
    "tutorial-reduced.png": "bench/reduced.png",
    "tutorial-curve.png": "curve/curve.png",
    "tutorial-compare.png": "side/compare.png",
    "tutorial-transient.png": "burst/transient.png",
    "tutorial-trial.png": "trial/trial.png",
}
PICTURES_OF_PAGES = {
    TUTORIAL: TUTORIAL_PICTURES,
    ROOT / "docs" / "calibration.md": {"calibrated.png": "meltzone-out/validate-sleeve/curves.png"},
    ROOT / "docs" / "division.md": {"divided.png": "meltzone-out/short-block-divided/field.png"},
}
LEFT_OUT = "..."  # a line that stands for any number of lines of output
ALIKE = 0.02  # numbers this close, relative, count as the same: calibrations move them a little
NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?")
FENCE = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
COLOURS = 128  # enough for a picture on a page, at a third of the size


@dataclass(frozen=True)
class Exchange:
    """A `command` of a console block with the output that the page quotes, the program's own, and its exit code."""

    command: str
    quoted: str
    given: str
    exit_code: int


def exchanges(page: Path) -> Iterator[Exchange]:
    """Carry out the console blocks of `page` in one temporary folder, case files first written as the page shows them.

    A TOML block whose first line is a comment with a file name, "# my.toml", is such a file.
    """
    with tempfile.TemporaryDirectory() as folder, chdir(folder):
        for language, text in FENCE.findall(page.read_text(encoding="utf-8")):
            name = re.match(r"# (\S+\.toml)\n", text)
            if language == "toml" and name:
                Path(name.group(1)).write_text(text, encoding="utf-8")
            if language == "console":
                for command, quoted in re.findall(r"^\$ (.*)\n((?:(?!\$ ).*\n)*)", text, re.MULTILINE):
                    yield Exchange(
                        command, quoted.rstrip("\n"), *carried_out(command, COLUMNS_OF.get(page, console.PIPED_WIDTH))
                    )


def carried_out(command: str, columns: int = console.PIPED_WIDTH) -> tuple[str, int]:
    """What `meltzone ...` prints on so many columns, without blanks at the ends of lines, and its exit code."""
    program, *arguments = shlex.split(command)
    if program != "meltzone":
        raise ValueError(f"the documents run nothing but meltzone, not {program}")
    os.environ.pop("FORCE_COLOR", None)
    with mock.patch.object(console, "PIPED_WIDTH", columns):
        done = CliRunner().invoke(app, arguments)
    return re.sub(r"[ ]+$", "", done.output, flags=re.MULTILINE).rstrip("\n"), done.exit_code


def agrees(quoted: str, given: str) -> bool:
    """Whether the output is as quoted: the same words, numbers alike, "..." for lines left out."""
    quoted, given = quoted.strip("\n"), given.strip("\n")
    pieces = [piece.strip("\n").split("\n") for piece in re.split(r"^\.\.\.$", quoted, flags=re.MULTILINE)]
    lines = given.split("\n")
    if len(pieces) == 1:
        return _same_lines(pieces[0], lines)
    at = 0
    for piece in (piece for piece in pieces if piece != [""]):
        places = (k for k in range(at, len(lines)) if _same_lines(piece, lines[k : k + len(piece)]))
        found = next(places, None)
        if found is None:
            return False
        at = found + len(piece)
    return True


def _same_lines(quoted: list[str], given: list[str]) -> bool:
    return all(a is not None and b is not None and _same_words(a, b) for a, b in zip_longest(quoted, given))


def _same_words(quoted: str, given: str) -> bool:
    """Equal but for numbers that are alike and for the bars and blanks that follow from them."""
    plain = [NUMBER.sub("#", line.replace("█", "")).split() for line in (quoted, given)]
    numbers = zip_longest(NUMBER.findall(quoted), NUMBER.findall(given), fillvalue="nan")
    return plain[0] == plain[1] and all(_alike(a, b) for a, b in numbers)


def _alike(quoted: str, given: str) -> bool:
    step = 10.0 ** -len(quoted.partition(".")[2]) if "." in quoted else 0.0
    return abs(float(quoted) - float(given)) <= max(ALIKE * abs(float(quoted)), 2.0 * step)


class Examples(doctest.DocTestRunner):
    """Carries out Python examples and keeps what each of them gave."""

    def __init__(self) -> None:
        super().__init__(verbose=False)
        self.given: list[tuple[doctest.Example, str]] = []

    def report_success(self, out: object, test: doctest.DocTest, example: doctest.Example, got: str) -> None:
        """Keep what was given."""
        self.given.append((example, got))

    def report_failure(self, out: object, test: doctest.DocTest, example: doctest.Example, got: str) -> None:
        """Keep what was given."""
        self.given.append((example, got))

    def report_unexpected_exception(self, out: object, test: object, example: doctest.Example, exc_info: tuple) -> None:
        """Pass it on: no page shows a traceback."""
        raise exc_info[1]


def python_examples(page: Path) -> list[tuple[doctest.Example, str]]:
    """Every `>>>` example of `page`, carried out in order, with what it gave."""
    blocks = [text for language, text in FENCE.findall(page.read_text(encoding="utf-8")) if language == "python"]
    runner = Examples()
    runner.run(doctest.DocTestParser().get_doctest("\n".join(blocks), {}, page.name, str(page), 0))
    return runner.given


def _with_outputs(page: Path) -> str:
    """The text of `page` with every quoted output that leaves nothing out replaced by the program's."""
    text = page.read_text(encoding="utf-8")
    for found in exchanges(page):
        if LEFT_OUT not in found.quoted.split("\n"):
            quoted = f"{found.quoted}\n" if found.quoted else ""
            text = text.replace(f"$ {found.command}\n{quoted}", f"$ {found.command}\n{found.given}\n", 1)
    for example, given in python_examples(page):
        if example.want:
            text = text.replace(example.want, given, 1)
    return text


def draw_pictures() -> None:
    """Draw the pictures of the README, small enough for a page."""
    cases = "short-block long-nozzle-bare-fan long-nozzle-bare long-nozzle-brass-sleeve long-block"
    changing = "--flow '5 mm^3/s' --step '15 mm^3/s' --fan 'on at 9 s'"
    with tempfile.TemporaryDirectory() as folder, chdir(folder):
        for command in (
            "meltzone run short-block --out run",
            f"meltzone ceiling {cases} --out ceilings.png",
            "meltzone check long-nozzle-brass-sleeve-fan --out section.png",
            "meltzone explain short-block --out why",
            "meltzone compare short-block long-nozzle-bare long-nozzle-brass-sleeve long-nozzle-wrapped-fan --out side",
            "meltzone reduce demo-short-block --out bench",
            f"meltzone transient short-block {changing} --duration '18 s' --out time",
            'meltzone curve short-block --set feeder.grip="17.5 N" --measured demo-short-block --out pushed',
        ):
            carried_out(command)
        for name in (
            "run/field.png",
            "run/axis.png",
            "ceilings.png",
            "section.png",
            "why/explain.png",
            "side/compare.png",
            "bench/reduced.png",
            "time/transient.png",
            "pushed/curve.png",
        ):
            _keep(Path(name), Path(name).name)


def draw_pages() -> None:
    """Draw the pictures that a page's own commands make."""
    for page, pictures in PICTURES_OF_PAGES.items():
        for _ in exchanges(page):
            for name, drawn in pictures.items():
                if Path(drawn).exists():
                    _keep(Path(drawn), name)


def _keep(drawn: Path, name: str) -> None:
    """Put a picture among those of the pages."""
    IMAGES.mkdir(exist_ok=True)
    with Image.open(drawn) as picture:
        picture.convert("RGB").quantize(COLOURS).save(IMAGES / name, optimize=True)


def main() -> None:
    """Rewrite all of it."""
    for page, text in GENERATED.items():
        page.write_text(text(), encoding="utf-8")
    for page in WRITTEN:
        page.write_text(_with_outputs(page), encoding="utf-8")
    draw_pictures()
    draw_pages()


if __name__ == "__main__":
    main()
