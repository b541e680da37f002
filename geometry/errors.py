"""The one error that geometry raises: an impossible dimension, named so that a reader of case files can locate it."""

from __future__ import annotations


class GeometryError(ValueError):
    """A dimension that cannot be built.

    `key` is the dotted place ("sleeve.height"), `value` the offending number [SI], `expected` a phrase
    that states the legal range with units, `hint` what to do about it.
    """

    def __init__(self, key: str, value: object, expected: str, hint: str) -> None:
        super().__init__(f"{key} = {value}: expected {expected}. {hint}")
        self.key = key
        self.value = value
        self.expected = expected
        self.hint = hint
