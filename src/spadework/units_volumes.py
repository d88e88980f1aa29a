"""Read areas and volumes as people write them, and refuse what could mean two things."""

from __future__ import annotations

import difflib
import re
from dataclasses import replace
from fractions import Fraction

from spadework.errors import Fault, Source, UnitError
from spadework.units_words import EXACT_FOOT, LONGEST_TEXT, LengthUnit, fault, number_fault, number_value, plain_text

_YARD = 3 * EXACT_FOOT
VOLUME_WORDS: dict[str, Fraction] = {
    **dict.fromkeys(("m3", "cu m", "cubic metre", "cubic metres", "cubic meter", "cubic meters"), Fraction(1)),
    **dict.fromkeys(("yd3", "cu yd", "cy", "cubic yard", "cubic yards"), _YARD**3),
    **dict.fromkeys(("ft3", "cu ft", "cf", "cubic foot", "cubic feet"), EXACT_FOOT**3),
    **dict.fromkeys(("l", "litre", "litres", "liter", "liters"), Fraction(1, 1000)),
}
AREA_WORDS: dict[str, Fraction] = {
    **dict.fromkeys(
        ("m2", "sq m", "sqm", "square metre", "square metres", "square meter", "square meters"), Fraction(1)
    ),
    **dict.fromkeys(("ft2", "sq ft", "sqft", "sf", "square foot", "square feet"), EXACT_FOOT**2),
    **dict.fromkeys(("yd2", "sq yd", "sy", "square yard", "square yards"), _YARD**2),
    **dict.fromkeys(("ha", "hectare", "hectares"), Fraction(10_000)),
}
_BARROW_WORDS = ("barrow", "barrows", "barrow load", "barrow loads", "barrowload", "barrowloads")
_AMOUNT = re.compile(
    r"([+-]?) ?((?:[.,]?[0-9])+\.?)(?:[ -]?([0-9]+/[0-9]+))?(?![0-9/.,])|([+-]?) ?([0-9]+/[0-9]+)(?![0-9/])"
)


def refusal(source: Source | None, wrong: Fault) -> UnitError:
    """Return the error of a fault, now that it is known where it stands."""
    return UnitError(replace(wrong, source=source or Source()))


def split_amount(text: str, plain: str, decimal_comma: bool) -> tuple[Fraction, str] | Fault:
    """Split ``2 1/2 cubic yards`` into its exact amount and its words."""
    match = _AMOUNT.match(plain)
    if not match:
        return fault(text, "does not begin with a number", "an amount is a number and its unit", "correct it")
    sign, digits, part, other_sign, lone = match.groups()
    amount = Fraction(0)
    if digits:
        wrong = number_fault(digits, decimal_comma)
        if wrong:
            return fault(text, *wrong)
        amount = number_value(digits, decimal_comma)
    fraction = part or lone
    if fraction:
        above, below = (int(number) for number in fraction.split("/"))
        if above >= below or amount.denominator != 1:
            return fault(
                text, f"has the fraction {fraction}", "a fraction is less than one, after a whole number", "correct it"
            )
        amount += Fraction(above, below)
    return (-amount if "-" in (sign or other_sign or "") else amount), plain[match.end() :].strip()


def _measure(
    text: str,
    words: dict[str, Fraction],
    bare: tuple[Fraction | None, str],
    noun: str,
    decimal_comma: bool,
) -> Fraction | Fault:
    """Return the exact size of an area or a volume in square or cubic metres."""
    if len(text) > LONGEST_TEXT:
        return fault(text, f"is too long for one {noun}", f"it has at most {LONGEST_TEXT} characters", "shorten it")
    plain = (
        plain_text(text)
        .replace("²", "2")
        .replace("³", "3")
        .replace("^", "")
        .replace("cu. ", "cu ")
        .replace("sq. ", "sq ")
    )
    split = split_amount(text, plain, decimal_comma)
    if isinstance(split, Fault):
        return split
    amount, word = split
    word = word.removesuffix(".")
    if amount < 0:
        return fault(text, f"is a negative {noun}", f"a {noun} is 0 or more", "correct it")
    if not word:
        scale, question = bare
        return amount * scale if scale is not None else fault(text, f"has no unit of {noun}", "", question)
    if word in words:
        return amount * words[word]
    near = difflib.get_close_matches(word, words, n=1, cutoff=0.6)
    remedy = f"did you mean {near[0]}?" if near else f"use one of {', '.join(name for name in words if len(name) <= 3)}"
    return fault(text, f"has the word “{word}”, which is not a unit of {noun} here", "", remedy)


def parse_volume(
    text: str,
    unit: LengthUnit | None = None,
    *,
    barrow: float | None = None,
    source: Source | None = None,
    decimal_comma: bool = False,
) -> float:
    """Read a volume: ``1.86 m³``, ``2 1/2 cu yd``, ``6 ft3``, ``85 L`` or ``3 barrows``. [m³]

    Parameters
    ----------
    text : str
        The volume, 0 or more. A bare number is cubic metres where `unit` is metres and is refused where it is feet,
        because cubic feet and cubic yards are both in use.
    unit : LengthUnit, optional
        The file's unit.
    barrow : float, optional
        Volume of one barrow load; without it barrow loads are refused. [m³]
    source, decimal_comma
        As in `parse_length`.

    Raises
    ------
    UnitError
        If the text cannot be read without guessing.
    """
    words = dict(VOLUME_WORDS)
    if barrow is not None:
        words.update(dict.fromkeys(_BARROW_WORDS, Fraction(barrow)))
    bare = (Fraction(1), "") if unit is LengthUnit.METRE else (None, "write m3, yd3 or ft3 after it")
    volume = _measure(text, words, bare, "volume", decimal_comma)
    if isinstance(volume, Fault):
        if barrow is None and any(word in text.lower() for word in _BARROW_WORDS):
            volume = fault(text, "is in barrow loads, whose size is not known here", "", "write it in m3, yd3 or ft3")
        raise refusal(source, volume)
    return float(volume)


def parse_area(
    text: str,
    unit: LengthUnit | None = None,
    *,
    source: Source | None = None,
    decimal_comma: bool = False,
) -> float:
    """Read an area: ``8.64 m²``, ``93 sq ft``, ``0.4 ha``. A bare number is in the square of `unit`. [m²]

    Acres are refused: the international and the survey acre differ, and neither is needed for a pad.

    Raises
    ------
    UnitError
        If the text cannot be read without guessing.
    """
    square = None if unit is None else Fraction(1) if unit is LengthUnit.METRE else EXACT_FOOT**2
    area = _measure(text, AREA_WORDS, (square, "write m2 or ft2 after it"), "area", decimal_comma)
    if isinstance(area, Fault):
        raise refusal(source, area)
    return float(area)
