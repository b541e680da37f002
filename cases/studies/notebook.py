"""What a notebook shows of a result: a view that the front door registers, so that results know no pages."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

View = Callable[[Any], str]
_views: list[View] = []


def register(view: View) -> None:
    """Make `view`, which turns a result into HTML, the one that notebooks get."""
    _views[:] = [view]


def shown(result: Any) -> str | None:
    """The `result` as HTML; None, for which a notebook shows its plain line, where no view is registered."""
    return _views[0](result) if _views else None
