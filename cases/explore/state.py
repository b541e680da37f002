"""What a page holds, as a case: a case to begin with and what was typed on top, kept within the working folder."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.layers import typed, written_form
from meltzone.cases.inputs.reader import EXAMPLES, Case, load_case

MOST_KEYS, LONGEST = 200, 2000  # of what a page may send
HERE = "Start the command in the folder that holds it; nothing outside is read."


@dataclass(frozen=True)
class PageState:
    """The `base` to begin with, a file of the working folder or an example, and the text `typed` for each dotted key."""

    base: str
    typed: tuple[tuple[str, str], ...]
    name: str = ""

    @classmethod
    def of(cls, sent: Any) -> PageState:
        """What a page has sent; raises CaseError where it is nothing of the kind."""
        sent = sent if isinstance(sent, dict) else {}
        keys = sent.get("typed", {})
        texts = [sent.get("base"), sent.get("name", ""), *keys, *keys.values()] if isinstance(keys, dict) else [None]
        if not all(isinstance(text, str) and len(text) <= LONGEST for text in texts) or len(texts) > 2 * MOST_KEYS + 2:
            expected = "a case to begin with, and text for each key that is changed"
            raise CaseError("page", None, None, None, expected, "Reload the page.")
        return cls(sent["base"], tuple(keys.items()), sent.get("name", ""))


@dataclass(frozen=True)
class WorkingFolder:
    """The working `folder`: what may be read and written."""

    folder: Path

    def bases(self) -> dict[str, list[str]]:
        """Cases to begin with: those of the folder, and the shipped examples."""
        own = sorted(path.name for path in self.folder.glob("*.toml") if path.is_file() and self.holds(path))
        return {"folder": own, "examples": list(EXAMPLES.names)}

    def holds(self, path: Path) -> bool:
        """Whether `path`, followed to where it leads, lies in the folder."""
        try:
            return path.resolve().is_relative_to(self.folder.resolve())
        except (OSError, ValueError):  # a null byte, a circle of links
            return False

    def case(self, held: PageState) -> Case:
        """The checked case; raises CaseError, also for files outside the folder."""
        written = held.base
        if written not in EXAMPLES.names:
            if not self.holds(self.folder / written):
                raise CaseError(written_form(written)[1:-1], None, None, None, "a file of the working folder", HERE)
            written = str(self.folder / written)
        overrides = {key: typed(text) for key, text in held.typed}
        loaded = load_case(written, overrides)
        for layer in loaded.layers:
            if layer.text and "(shipped " not in layer.label and not self.holds(Path(layer.label)):
                raise CaseError(layer.label, None, "extends", None, "a file of the working folder", HERE)
        return replace(loaded, file=held.base, name=held.name or loaded.name)
