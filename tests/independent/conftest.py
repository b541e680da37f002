"""Marks the comparisons with an independent program, which take about a minute and need ngsolve."""

from __future__ import annotations

import pytest


def pytest_configure(config: pytest.Config) -> None:
    """Make the marker known."""
    config.addinivalue_line(
        "markers", "independent: the same case solved by independent code; needs ngsolve (extra 'test')"
    )
