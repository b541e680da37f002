"""How a command enters the program: its stage of the job and examples of its calls stand at its function."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

Stage = Literal["Describe", "Predict", "Decide", "Measure", "Learn"]
Function = TypeVar("Function", bound=Callable[..., Any])


@dataclass(frozen=True)
class Command:
    """A `function` that the command line offers at a `stage` of the job, with `examples` of its calls."""

    function: Callable[..., Any]
    stage: Stage
    examples: tuple[str, ...]


COMMANDS: list[Command] = []  # in the order of their modules' imports


def command(stage: Stage, *examples: str) -> Callable[[Function], Function]:
    """Marks a function as a command."""

    def marked(function: Function) -> Function:
        COMMANDS.append(Command(function, stage, examples))
        return function

    return marked
