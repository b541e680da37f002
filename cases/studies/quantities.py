"""What one number of a record is: its key, unit, meaning and how it is read, said once for every output."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Generic, TypeVar

DIGITS = 8
Bounds = tuple[float, float]

Source = TypeVar("Source")
Other = TypeVar("Other")


@dataclass(frozen=True)
class Quantity(Generic[Source]):
    """One quantity: dotted `path` in records, `unit` ('' for words and counts), `meaning`, and how it is read off its source.

    The last part of `path` names its column in CSV and sweeps. `heading` stands over it in tables, with `digits` decimals;
    without a heading it stands in records only. `shown` are the tables in which it stands without being asked for, and only
    where some source has it if it is `rare`. Of a number with a `band` that reads both ends, tables show those too, and records
    hold them by `with_ends`.
    """

    path: str
    unit: str
    meaning: str
    read: Callable[[Source], Any]
    heading: str = ""
    digits: int = 1
    shown: frozenset[str] = frozenset()
    rare: bool = False
    band: Callable[[Source], Bounds | None] | None = None

    @property
    def name(self) -> str:
        """Its column's name in CSV and sweeps."""
        return self.path.rpartition(".")[2]

    def lifted(self, up: Callable[[Other], Source], path: str = "", **changes: Any) -> Quantity[Other]:
        """The same quantity of something that holds the source, which `up` fetches; under another `path` where one is given."""
        read: Callable[[Source], Any] = self.read
        band = self.band
        lifted: Quantity[Any] = replace(self, path=path or self.path, **changes)
        return replace(
            lifted, read=lambda other: read(up(other)), band=None if band is None else lambda other: band(up(other))
        )


def with_ends(quantity: Quantity[Source]) -> tuple[Quantity[Source], ...]:
    """A quantity with a band, and the quantities of its lower and its upper end."""
    band, (stem, _, unit) = quantity.band, quantity.path.rpartition(".")[2].partition("_")
    assert band is not None
    above = quantity.path.removesuffix(quantity.name)

    def end(number: int) -> Callable[[Source], Any]:
        return lambda source: None if (ends := band(source)) is None else ends[number]

    said = (("low", "Lower end of its 90 % band; null where it has none."), ("high", "Upper end of it."))
    return quantity, *(
        Quantity(f"{above}{stem}_{word}_{unit}", quantity.unit, text, end(number))
        for number, (word, text) in enumerate(said)
    )


def chosen(quantities: Iterable[Quantity[Source]], *paths: str) -> list[Quantity[Source]]:
    """Those of `quantities` that have these `paths`, in the order of the paths; raises KeyError."""
    known = {quantity.path: quantity for quantity in quantities}
    return [known[path] for path in paths]


def present(quantities: Iterable[Quantity[Source]], sources: Sequence[Source]) -> list[Quantity[Source]]:
    """Those of `quantities` that a table of `sources` shows: without the rare ones that none of them has."""
    return [each for each in quantities if not each.rare or any(each.read(source) is not None for source in sources)]


def nested(quantities: Iterable[Quantity[Source]], source: Source) -> dict[str, Any]:
    """What the `quantities` read off `source`, by their paths: plain types only, numbers to eight digits."""
    record: dict[str, Any] = {}
    for quantity in quantities:
        *tables, name = quantity.path.split(".")
        place = record
        for table in tables:
            place = place.setdefault(table, {})
        place[name] = rounded(quantity.read(source))
    return record


def flat(quantities: Iterable[Quantity[Source]], source: Source) -> dict[str, Any]:
    """What the `quantities` read off `source`, by the names of their columns, numbers to eight digits."""
    return {quantity.name: rounded(quantity.read(source)) for quantity in quantities}


def rounded(value: Any) -> Any:
    """`value` with every number in it cut to the digits that are printed."""
    if isinstance(value, Mapping):
        return {str(name): rounded(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [rounded(item) for item in value]
    if isinstance(value, float):
        return float(f"{float(value):.{DIGITS}g}")
    return value
