"""Shared by the tests of what is written: one solved case, coarse enough to be quick, and what to ask of a picture."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
from matplotlib.image import imread
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.run import ceiling, solve

COARSE = {"mesh.level": 0.25}


@cache
def solved(name: str = "short-block") -> Result:
    """The ceilings of an example on a coarse mesh."""
    return ceiling(name, COARSE)


@cache
def at_flow(name: str = "short-block", flow: str = "12 mm^3/s") -> Result:
    """An example at a flow, on a coarse mesh."""
    return solve(name, flow, overrides=COARSE)


def printed(*words: str, code: int = 0) -> str:
    """What the command line says to `words`, blanks and line breaks as one blank each; it must end with `code`."""
    done = CliRunner().invoke(app, list(words))
    assert done.exit_code == code, done.output
    return " ".join(done.output.split())


def pixels(path: Path) -> np.ndarray:
    """The picture as (height, width, 3) numbers from 0 to 1."""
    return imread(path)[..., :3]


def assert_drawn(path: Path, share: float = 0.02) -> None:
    """A picture of a useful size, of which at least `share` is not background, in many colours."""
    picture = pixels(path)
    assert min(picture.shape[:2]) > 300
    assert np.mean(np.any(picture < 0.98, axis=2)) > share
    colours = (255 * picture).astype(int) @ [1, 256, 256 * 256]  # a number each: to sort rows of three takes seconds
    assert len(np.unique(colours)) > 50
