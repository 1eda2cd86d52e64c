"""A specification file as it is written: its text, and messages that name the line and key of what is wrong in it."""

from __future__ import annotations

from dataclasses import dataclass

from rheokit.base.errors import SpecificationError, UnitError
from rheokit.base.quantities import Amount, parse_amount
from rheokit.release.toml_lines import line_of

__all__ = ["Key", "WrittenFile"]

Key = tuple[str | int, ...]
"""The path to a key: `("requirement", 2, "upper")` is the key `upper` of the third `[[requirement]]`."""


@dataclass(frozen=True, kw_only=True)
class WrittenFile:
    """Name and text of a file."""

    name: str
    text: str

    def error(self, key: Key, seen: str, remedy: str = "") -> SpecificationError:
        """Return the error that names file, line and key."""
        return SpecificationError(self.name, seen, key=_dotted(key), line=line_of(self.text, key), remedy=remedy)

    def amount(self, key: Key, text: str, quantity: str) -> Amount:
        """Return the amount that a text states: a number and a unit of the quantity, without a tolerance.

        Raises
        ------
        SpecificationError
            When it is none.
        """
        try:
            amount = parse_amount(text, quantity)
        except UnitError as error:
            raise self.error(key, str(error)) from None
        if amount.tolerance is not None:
            raise self.error(key, f"{text!r} carries a tolerance", "write the number and its unit alone")
        return amount


def _dotted(key: Key) -> str:
    """Return a key path as a person writes it: `requirement 3, upper`."""
    words: list[str] = []
    for part in key:
        if isinstance(part, int) and words:
            words[-1] += f" {part + 1}"
        else:
            words.append(str(part))
    return ", ".join(words)
