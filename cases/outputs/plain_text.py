"""The one place where text from outside becomes output: what could steer a terminal or break a file is replaced."""

from __future__ import annotations

import re

# Control characters of both sets, but not line feed and tab; lone surrogates, which UTF-8 cannot hold
_HARMFUL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff]")


def printable(text: str) -> str:
    """`text` with every control character but line feed and tab, and every lone surrogate, replaced by a question mark."""
    return _HARMFUL.sub("?", text)
