"""The one error that geometry raises: an impossible dimension, named so that a reader of case files can locate it."""

from __future__ import annotations


class AngleSize(float):
    """An angle [rad] among the sizes of an error, where plain numbers are lengths [m]."""


class GeometryError(ValueError):
    """A dimension that cannot be built.

    `key` is the dotted place ("sleeve.height"), `value` the offending number [SI]; `expected` is a phrase that states the legal
    range, `hint` what to do about it. Both name their `sizes`, lengths [m] or angles [rad], in braces with the digits to show,
    for whoever reads it to fill in with units; "micro" before the digits asks for a smaller unit, "bare" for none, "long" for
    its name.
    """

    def __init__(self, key: str, value: object, expected: str, hint: str, **sizes: float) -> None:
        super().__init__(key, value, expected, hint)
        self.key = key
        self.value = value
        self.expected = expected
        self.hint = hint
        self.sizes = sizes

    def __str__(self) -> str:
        """As it stands, and the sizes in SI."""
        sizes = ", ".join(f"{name} = {float(size):g}" for name, size in self.sizes.items())
        return f"{self.key} = {self.value}: expected {self.expected}. {self.hint}" + (f" ({sizes})" if sizes else "")
