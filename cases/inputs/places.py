"""Dotted places in a case and in the solver's inputs: reading what stands there, and the inputs with another value there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from pydantic import BaseModel


def value_at(holder: Any, place: Sequence[str]) -> Any:
    """What stands at the names of `place` below `holder`, in attributes and mappings; None where there is no such place."""
    for name in place:
        holder = holder.get(name) if isinstance(holder, Mapping) else getattr(holder, name, None)
    return holder


def with_values(holder: Any, moved: Mapping[tuple[str, ...], Any]) -> Any:
    """A copy of `holder`, a dataclass, model or mapping, with the values of `moved` at their places.

    All are set at once, since some go only together.
    """
    below: dict[str, dict[tuple[str, ...], Any]] = {}
    for (name, *rest), value in moved.items():
        below.setdefault(name, {})[tuple(rest)] = value
    inner = {
        name: there[()] if () in there else with_values(value_at(holder, (name,)), there)
        for name, there in below.items()
    }
    if isinstance(holder, Mapping):
        return {**holder, **inner}
    return holder.model_copy(update=inner) if isinstance(holder, BaseModel) else replace(holder, **inner)


def with_value(holder: Any, place: Sequence[str], value: Any) -> Any:
    """A copy of `holder` with `value` at the names of `place`."""
    return with_values(holder, {tuple(place): value})
