"""A last line in files that people fill in or edit, by which a later command sees whether they did."""

from __future__ import annotations

import hashlib
import re

MARK = "as written by this program: seal"
_SEAL = re.compile(rf"^[^\n]*{MARK} ([0-9a-f]{{12}})\W*$", re.MULTILINE)


def sealed(text: str, comment: str = "# {}") -> str:
    """`text` with its seal as one more line, a comment of the form `comment`."""
    return f"{text}{comment.format(f'{MARK} {seal_of(text)}')}\n"


def seal_of(text: str) -> str:
    """Twelve hexadecimal digits of the SHA-256 of `text`."""
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()[:12]


def edited(text: str) -> bool:
    """Whether `text` has a seal that does not fit it any more; one without a seal tells nothing, and counts as not edited."""
    return MARK in text and not unchanged(text)


def unchanged(text: str) -> bool:
    """Whether `text` has a seal, and it fits; nothing stands below it."""
    text = text.replace("\r\n", "\n")
    found = _SEAL.search(text)
    return found is not None and not text[found.end() :].strip() and seal_of(text[: found.start()]) == found.group(1)


def is_seal(comment: str) -> bool:
    """Whether a `comment` of a file is its seal."""
    return comment.lstrip('#"; ').startswith(MARK)
