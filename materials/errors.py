"""What can be wrong with a material: an unknown name, or a card that cannot be read."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

LONGEST_SHOWN = 80  # characters of a value in a message


def nearest(name: str, known: Iterable[str], count: int = 1, alike: float = 0.55) -> list[str]:
    """The `count` names of `known` that look most like `name`, `alike` from 0 to 1; empty where none comes close."""
    by_lower = {candidate.lower(): candidate for candidate in known}
    close = difflib.get_close_matches(name.lower()[:LONGEST_SHOWN], by_lower, count, alike)
    return [by_lower[match] for match in close]


class CardError(ValueError):
    """A material card with a number or word that cannot be used.

    `key` is the dotted place inside the card ("conductivity.unit"), `value` the offending entry (None: missing),
    `expected` a phrase for what may stand there, `hint` what to do, `origin` where the card came from ("card pla", a
    case file).
    """

    def __init__(self, key: str, value: object, expected: str, hint: str, origin: str = "") -> None:
        place = f"{origin}: " if origin else ""
        written = repr(value)
        shown = written if len(written) <= LONGEST_SHOWN else f"{written[:LONGEST_SHOWN]}..."
        fault = f"{key} is missing" if value is None else f"{key} = {shown}"
        super().__init__(f"{place}{fault}: expected {expected}. {hint}")
        self.key = key
        self.value = value
        self.expected = expected
        self.hint = hint
        self.origin = origin


class UnknownMaterial(LookupError):
    """No card of that name and kind; `nearest` are the names most alike, `known` all names of that kind."""

    def __init__(self, name: str, nearest: tuple[str, ...], known: tuple[str, ...], kind: str = "material") -> None:
        meant = f" Did you mean {' or '.join(nearest)}?" if nearest else ""
        super().__init__(f"no {kind} named {name[:LONGEST_SHOWN]!r}.{meant} Known: {', '.join(known)}.")
        self.name = name
        self.nearest = nearest
        self.known = known
        self.kind = kind
