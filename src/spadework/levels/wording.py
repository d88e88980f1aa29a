"""Say a length, a line or a point in the words of the person who wrote the book."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from spadework.adjust.pen import decimal_step, unit_of_step
from spadework.units import FOOT, LengthUnit, format_length

__all__ = [
    "Wording",
    "decimal_step",
    "did_you_mean",
    "first_of_many",
    "line_range",
    "name_key",
    "plural",
    "unit_of_step",
]


def name_key(name: str) -> str:
    """Return the form in which point names are compared: without regard to case or to spaces around."""
    return name.strip().casefold()


def did_you_mean(wrong: str, right: Iterable[str]) -> str:
    """Return ``Did you mean 'BM1'?`` for the nearest of the names, or nothing when none is near."""
    by_key = {name_key(name): name for name in right}
    close = difflib.get_close_matches(name_key(wrong), list(by_key), n=1, cutoff=0.6)
    return f"Did you mean {by_key[close[0]]!r}?" if close else ""


def plural(count: int, noun: str) -> str:
    """Return ``1 set-up`` or ``3 set-ups``."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def first_of_many(sentences: Iterable[str], most: int) -> Iterator[str]:
    """Give the first sentences of one kind, and say how many more there are."""
    more = 0
    for count, sentence in enumerate(sentences):
        if count < most:
            yield sentence
        else:
            more += 1
    if more:
        yield f"... and {more} more of that kind."


def line_range(first: int, last: int) -> str:
    """Return ``line 4`` or ``lines 4 to 9``."""
    return f"line {first}" if first == last else f"lines {min(first, last)} to {max(first, last)}"


@dataclass(frozen=True, slots=True)
class Wording:
    """Prints lengths in one unit, to the step in which the book is written.

    Parameters
    ----------
    unit : LengthUnit
        The user's unit.
    decimals : int
        Decimals of metres or feet; parts of an inch for feet and inches.
    """

    unit: LengthUnit
    decimals: int

    @classmethod
    def of_book(cls, step: float, unit: LengthUnit | None = None) -> Wording:
        """Return the wording for a book written to a step of so many metres."""
        chosen = unit_of_step(step) if unit is None else unit
        if chosen is LengthUnit.FOOT_INCH:
            return cls(chosen, 16)
        usual = 3 if chosen is LengthUnit.METRE else 2
        in_unit = step if chosen is LengthUnit.METRE else step / FOOT
        written = round(-math.log10(in_unit)) if math.isfinite(step) and 0 < in_unit < 1 else usual
        return cls(chosen, min(max(usual, written), 5))

    def length(self, metres: float, *, sign: bool = False) -> str:
        """Return ``1.083 m``."""
        return format_length(metres, self.unit, step=self.decimals, sign=sign)

    def fine(self, metres: float, *, sign: bool = False) -> str:
        """Return a small amount to one decimal more than the book has: ``0.0055 ft``."""
        step = self.decimals if self.unit is LengthUnit.FOOT_INCH else self.decimals + 1
        return format_length(metres, self.unit, step=step, sign=sign)

    def number(self, metres: float) -> str:
        """Return a reading as it stands in the book, without its unit: ``1.083``."""
        return format_length(metres, self.unit, step=self.decimals, with_unit=False)

    def fine_number(self, metres: float, *, sign: bool = False) -> str:
        """Return the same without its unit: ``0.0055``."""
        step = self.decimals if self.unit is LengthUnit.FOOT_INCH else self.decimals + 1
        return format_length(metres, self.unit, step=step, sign=sign, with_unit=False)
