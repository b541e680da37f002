"""Who is told what is being done while a solve takes its time."""

from __future__ import annotations

from collections.abc import Callable

Reporter = Callable[[str], None]  # of what is being done, in words
TimeReporter = Callable[[float], None]  # of the time that a march has come to [s]
