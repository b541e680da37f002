"""The recipes of docs/extending.md: read off the page, carried out on a copy of the program, used in a process of its own."""

from __future__ import annotations

import os
import re
import shutil
import sys
import traceback
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from functools import cache
from multiprocessing import get_context
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "extending.md"
ROOMS = ("fem", "geometry", "materials", "cases")
SECTION = re.compile(r"^### Recipe: (.+?)\n(.*?)(?=^##|\Z)", re.MULTILINE | re.DOTALL)
FENCE = re.compile(r"^```diff\n(.*?)^```$", re.MULTILINE | re.DOTALL)
# What every copy of the program loads is loaded once, in the process that they are forked from
LIBRARIES = ["numpy", "scipy.sparse.linalg", "scipy.optimize", "skfem", "matplotlib.pyplot", "pydantic", "pint"]
# Runs the command line of the copy, whatever meltzone is installed.
BEGIN = """
import sys
sys.path.insert(0, sys.argv.pop(1))
sys.meta_path = [f for f in sys.meta_path if "__editable__" not in str(getattr(f, "__module__", f))]
import meltzone
assert meltzone.__file__.startswith(sys.path[0]), meltzone.__file__
"""


class Rotten(AssertionError):
    """A recipe that does not fit the program any more."""


@dataclass(frozen=True)
class Change:
    """Lines `before` that stand in a file just once, and what stands there `after`; without `before` a file that is new."""

    before: str
    after: str

    @classmethod
    def of(cls, hunk: str) -> Change:
        """A hunk whose lines begin with a blank, a plus or a minus."""
        lines = [line or " " for line in hunk.splitlines()]
        if not {line[0] for line in lines} <= set(" +-"):
            raise Rotten(f"neither kept, added nor taken away, in:\n{hunk}")
        kept, made = ([line[1:] for line in lines if line[0] in marks] for marks in (" -", " +"))
        return cls("".join(f"{line}\n" for line in kept), "".join(f"{line}\n" for line in made))

    def in_text(self, text: str) -> str:
        """`text` with the change."""
        found = list(re.finditer(rf"^{re.escape(self.before)}", text, flags=re.MULTILINE)) if self.before else []
        if len(found) != 1:
            raise Rotten(f"stands {len(found)} times, not once:\n{self.before}")
        return text[: found[0].start()] + self.after + text[found[0].end() :]


@dataclass(frozen=True)
class Recipe:
    """The changes of a recipe, by file."""

    files: dict[str, tuple[Change, ...]]

    @classmethod
    def of(cls, text: str) -> Recipe:
        """What the fences of a section say."""
        parts = re.split(r"^--- (\S+)\n", "".join(FENCE.findall(text)), flags=re.MULTILINE)[1:]
        return cls(
            {
                name: tuple(map(Change.of, re.split(r"^@@\n", body, flags=re.MULTILINE)))
                for name, body in zip(parts[::2], parts[1::2], strict=True)
            }
        )

    def carried_out(self, folder: Path) -> Path:
        """A place with the package meltzone, the program with the recipe's changes, in `folder`."""
        package = folder / "meltzone"
        for room in ROOMS:
            # what is compiled goes along, and counts for the files that no recipe changes: their dates stay
            ignored = shutil.ignore_patterns("front") if room == "cases" else None
            shutil.copytree(ROOT / room, package / room, ignore=ignored)
        shutil.copy(ROOT / "cases" / "front" / "__init__.py", package)
        for name, changes in self.files.items():
            path = package / name
            for change in changes:
                if not change.before:
                    if path.exists():
                        raise Rotten(f"{name} is there already")
                    path.write_text(change.after, encoding="utf-8")
                else:
                    path.write_text(change.in_text(path.read_text(encoding="utf-8")), encoding="utf-8")
        return folder


@cache
def recipes() -> dict[str, Recipe]:
    """All recipes of the page by their names."""
    return {name: Recipe.of(text) for name, text in SECTION.findall(PAGE.read_text(encoding="utf-8"))}


def used(name: str, code: str, folder: Path) -> str:
    """What `code` prints in a process that knows the program with the recipe `name`, made in `folder`."""
    place = recipes()[name].carried_out(folder / "site")
    where, said = folder / "work", folder / "said.txt"
    where.mkdir()
    beginning = get_context("forkserver")
    beginning.set_forkserver_preload(LIBRARIES)
    process = beginning.Process(target=_carry_out, args=(place, BEGIN + code, where, said))
    process.start()
    process.join()
    told = said.read_text(encoding="utf-8")
    assert process.exitcode == 0, told[-3000:]
    return told


def _carry_out(place: Path, code: str, where: Path, said: Path) -> None:
    """In a process of its own: `code` with the package at `place`; what it prints goes into a file."""
    os.chdir(where)
    sys.path.insert(0, str(ROOT / "docs"))
    sys.argv[:] = ["-c", str(place)]
    with said.open("w", encoding="utf-8") as told, redirect_stdout(told), redirect_stderr(told):
        try:
            exec(compile(code, "<recipe>", "exec"), {"__name__": "__recipe__"})
        except BaseException:
            traceback.print_exc()
            raise
