"""Lengths, marks and volumes on the field sheet: printed in the plan's unit, and marked so that the page can change it.

Each stands in an element that carries its metres; the page's script prints it anew in the unit that is chosen there.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from spadework.stakeout import depth_mark
from spadework.units import LengthUnit, format_fine, format_length, format_volume, unit_label, volume_label
from spadework.write.markup import Markup, element, joined
from spadework.write.sheet_words import kept_together

__all__ = ["Spoken", "inline", "length", "mark", "short_length", "unit_word", "volume", "volume_word", "word"]

OPEN, CLOSE = "\ue000", "\ue001"
"""Characters of the private use area, around the number of an element."""


def inline(parts: Iterable[str]) -> Markup:
    """Return words and elements as one run of text."""
    return Markup("".join(joined([part]) for part in parts))


def length(metres: float, unit: LengthUnit, *, sign: bool = False, with_unit: bool = True) -> Markup:
    """Return a length that no line breaks inside.

    Parameters
    ----------
    metres : float
        The length. [m]
    unit : LengthUnit
        Unit that it is printed in at first.
    sign, with_unit : bool
        As for `spadework.units.format_length`.
    """
    how = " ".join(name for name, wanted in (("sign", sign), ("bare", not with_unit)) if wanted)
    return _marked("len", metres, format_length(metres, unit, sign=sign, with_unit=with_unit), how)


def short_length(metres: float, unit: LengthUnit) -> Markup:
    """Return a round distance without the zeros that say nothing, and without its unit."""
    words = format_length(float(metres), unit, with_unit=False)
    plain = words.removesuffix(' 0"') if unit is LengthUnit.FOOT_INCH else words.rstrip("0").rstrip(".")
    return _marked("len", metres, plain, "bare short")


def mark(depth: float, unit: LengthUnit) -> Markup:
    """Return what is written on a stake: ``C 0.35``.

    Parameters
    ----------
    depth : float
        Ground minus wanted level. [m]
    unit : LengthUnit
        Unit that it is printed in at first.
    """
    return _marked("mark", depth, depth_mark(depth, unit), "")


def volume(cubic_metres: float, unit: LengthUnit, *, decimals: int = 2, with_unit: bool = True) -> Markup:
    """Return a volume.

    Parameters
    ----------
    cubic_metres : float
        The volume. [m³]
    unit : LengthUnit
        The user's unit of length: cubic metres with metres, cubic yards with feet.
    decimals : int
        How many are printed.
    with_unit : bool
        Whether the unit follows.
    """
    words = format_volume(cubic_metres, unit, decimals=decimals)
    how = f"{decimals}" if with_unit else f"{decimals} bare"
    return _marked("vol", cubic_metres, words if with_unit else words.split(" ")[0], how)


class Spoken:
    """Prints the numbers of a sentence so that the page can change their unit.

    Each stands in the sentence as a token of its own, of characters that no text uses, and `words` puts the element in
    its place.
    """

    def __init__(self, unit: LengthUnit) -> None:
        self.unit = unit
        self.parts: list[Markup] = []

    def length(self, metres: float) -> str:
        """Return the token of a length. [m]"""
        return self._token(length(metres, self.unit))

    def rough(self, metres: float) -> str:
        """Return the token of a distance to a decimetre, a tenth of a foot, or an inch. [m]"""
        return self._token(_marked("len", metres, format_length(metres, self.unit, step=1), "rough"))

    def fine(self, metres: float) -> str:
        """Return the token of a small length. [m]"""
        return self._token(_marked("len", metres, format_fine(metres, self.unit), "fine"))

    def volume(self, cubic_metres: float, decimals: int = 2) -> str:
        """Return the token of a volume. [m³]"""
        return self._token(volume(cubic_metres, self.unit, decimals=decimals))

    def words(self, sentence: str) -> Markup:
        """Return a sentence with the elements in the place of their tokens."""
        pieces = re.split(f"({OPEN}[0-9]+{CLOSE})", sentence)
        return inline(self.parts[int(part[1:-1])] if part.startswith(OPEN) else part for part in pieces if part)

    def _token(self, part: Markup) -> str:
        self.parts.append(part)
        return f"{OPEN}{len(self.parts) - 1}{CLOSE}"


def unit_word(unit: LengthUnit) -> Markup:
    """Return the unit for a heading, with a hyphen that does not break."""
    return element("span", unit_label(unit).replace("-", "\u2011"), class_="unit")


def volume_word(unit: LengthUnit) -> Markup:
    """Return the unit of volumes for a heading."""
    return element("span", volume_label(unit), class_="volunit")


def word(with_instrument: str, with_string: str) -> Markup:
    """Return words for one who reads a rod, and those for one who measures down from a string."""
    return element("span", with_instrument, class_="word", data_rod=with_instrument, data_string=with_string)


def _marked(kind: str, value: float, words: str, how: str) -> Markup:
    """Return an element that carries a value in metres and how it is printed."""
    more = {"data_how": how} if how else {}
    return element("span", kept_together(words), class_=kind, data_m=repr(float(value)), **more)
