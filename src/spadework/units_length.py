"""Read one length as people write it, exactly, and refuse what could mean two things."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from spadework.errors import Fault, Source, UnitError
from spadework.units_words import (
    EXACT_FOOT,
    EXACT_INCH,
    LONGEST_TEXT,
    UNIT_ADVICE,
    LengthUnit,
    Token,
    fault,
    plain_text,
    split_length,
)

FARTHEST = Fraction(100_000_000)

# What a length is made of, in one letter each: N whole number, D decimal, E with an exponent, F fraction,
# f feet mark, i inch mark, u another unit.
_FEET_AND_INCHES = re.compile(r"[NDF]f[-,]?(?:[ND]|N-?F|F)i?")
_ONE_UNIT = re.compile(r"(?:[NDE]|N-?F|F)[fiu]")
_BARE_FEET_AND_INCHES = re.compile(r"N-?(?:[ND]|N-?F)")
_BARE_AMOUNT = re.compile(r"[NDE]|N-?F|F")
_SPACED_OUT = re.compile(r"(?<![0-9.])[0-9]{1,3} [0-9]{3}(?![0-9])")
_LETTERS_AS_DIGITS = re.compile(r"(?<=[0-9.,])[oOlI]|[oOlI](?=[0-9.,])")


def _amount(tokens: list[Token]) -> Fraction:
    """Return a whole number, a decimal, a fraction, or a whole number and a fraction."""
    return sum((token.value for token in tokens if token.kind in "NDEF"), Fraction(0))


def _inches_after_feet(text: str, tokens: list[Token]) -> Fraction | Fault:
    """Return the inches that follow whole feet: less than twelve, written with at most two digits."""
    inches = _amount(tokens)
    whole = next((token.text for token in tokens if token.kind in "ND"), "0")
    if inches >= 12:
        return fault(text, f"has {whole} inches after its feet", "inches after feet are less than 12", "carry the foot")
    if len(re.split(r"[.,]", whole)[0]) > 2:
        return fault(
            text, f"has {whole} after its feet", "inches have at most two digits before the point", UNIT_ADVICE
        )
    return inches


def _feet_and_inches(text: str, tokens: list[Token]) -> Fraction | Fault:
    """Return the metres of ``3' 6 1/2"`` or ``3 6 1/2``."""
    if tokens[0].kind != "N":
        return fault(
            text,
            f"has {tokens[0].text} feet and inches besides",
            "feet followed by inches are a whole number",
            "write decimal feet (3.54 ft) or feet and inches (3' 6 1/2\"), not both",
        )
    inches = _inches_after_feet(text, tokens[1:])
    return inches if isinstance(inches, Fault) else tokens[0].value * EXACT_FOOT + inches * EXACT_INCH


def _bare(text: str, tokens: list[Token], unit: LengthUnit | None, bare_inches: bool | None) -> Fraction | Fault:
    """Return the metres of a number without a unit, from what its file or heading says."""
    shape = "".join(token.kind for token in tokens)
    amount = _amount(tokens)
    plain_number = shape in {"N", "D", "E"}
    if unit is None:
        if plain_number and amount == 0:
            return amount
        return fault(text, "has no unit", "a length needs its unit here", UNIT_ADVICE)
    if not plain_number and unit is not LengthUnit.FOOT_INCH:
        said = "metres" if unit is LengthUnit.METRE else "decimal feet"
        return fault(
            text,
            f"looks like feet and inches, or inches and a fraction, among {said}",
            f"the unit said is {unit.value}, in which a bare number is one plain decimal",
            UNIT_ADVICE,
        )
    if unit is not LengthUnit.FOOT_INCH:
        return amount * (EXACT_FOOT if unit is LengthUnit.FOOT else 1)
    if _BARE_FEET_AND_INCHES.fullmatch(shape):
        return _feet_and_inches(text, tokens)
    if bare_inches:
        return amount * EXACT_INCH
    if plain_number and (bare_inches is False or amount == 0):
        return amount * EXACT_FOOT
    as_inches = f'{tokens[0].text}"' if plain_number else f'{text.strip()}"'
    as_feet = f"{text.strip()} ft"
    return fault(
        text,
        "could be feet or inches: which?",
        "among feet and inches a number alone does not say",
        f"write {as_inches} for inches, {as_feet} for feet, or put the unit in the heading",
    )


def read_length(
    text: str,
    unit: LengthUnit | None,
    bare_inches: bool | None,
    decimal_comma: bool,
) -> Fraction | Fault:
    """Return the exact length, or the fault, which does not know yet where it stands. [m]"""
    if len(text) > LONGEST_TEXT:
        return fault(text, "is too long for a length", f"a length has at most {LONGEST_TEXT} characters", "shorten it")
    return _read_cached(text, unit, bare_inches, decimal_comma)


@lru_cache(maxsize=8192)
def _read_cached(text: str, unit: LengthUnit | None, bare_inches: bool | None, decimal_comma: bool) -> Fraction | Fault:
    length = _read(text, unit, bare_inches, decimal_comma)
    if isinstance(length, Fraction):
        if abs(length) <= FARTHEST:
            return length
        return fault(text, "is longer than 100,000 km", "a site is smaller", "correct the number or its unit")
    mended = letters_mended(text)
    if mended != text and isinstance(_read(mended, unit or LengthUnit.METRE, bare_inches, decimal_comma), Fraction):
        return fault(
            text,
            "has a letter where a digit should be (O for 0, or l for 1)",
            "a number has digits only",
            f"did you mean {mended.strip()}? Correct it",
        )
    return length


def letters_mended(text: str) -> str:
    """Return the text with letters that stand among digits, O and l, made the digits they look like."""
    before = ""
    while before != text:
        before = text
        text = _LETTERS_AS_DIGITS.sub(lambda letter: "0" if letter[0] in "oO" else "1", text)
    return text


def _read(text: str, unit: LengthUnit | None, bare_inches: bool | None, decimal_comma: bool) -> Fraction | Fault:
    plain = plain_text(text)
    if not plain:
        return fault(text, "is empty where a length is needed", "", UNIT_ADVICE)
    negative = plain.startswith("-")
    tokens = split_length(text, plain[1:] if plain[0] in "+-" else plain, decimal_comma)
    if isinstance(tokens, Fault):
        return tokens
    shape = "".join(token.kind for token in tokens)
    length: Fraction | Fault
    if _ONE_UNIT.fullmatch(shape):
        length = _amount(tokens[:-1]) * tokens[-1].value
    elif _FEET_AND_INCHES.fullmatch(shape):
        length = _feet_and_inches(text, tokens)
    elif _BARE_AMOUNT.fullmatch(shape) or _BARE_FEET_AND_INCHES.fullmatch(shape):
        length = _bare(text, tokens, unit, bare_inches)
    else:
        advice = "leave out the space that sets thousands apart" if _SPACED_OUT.search(plain) else UNIT_ADVICE
        length = fault(text, "is not understood as one length", "a length is a number and its unit", advice)
    return -length if negative and isinstance(length, Fraction) else length


def written_step(text: str, unit: LengthUnit, bare_inches: bool | None) -> Fraction | None:
    """Return what one step of the last figure or fraction of a length is worth; None for what is no length. [m]"""
    decimal_comma = "," in text and "." not in text
    if isinstance(read_length(text, unit, bare_inches is not False, decimal_comma), Fault):
        return None
    tokens = split_length(text, plain_text(text).lstrip("+-"), decimal_comma)
    if isinstance(tokens, Fault):
        return None
    shape = "".join(token.kind for token in tokens)
    if _ONE_UNIT.fullmatch(shape):
        size = tokens[-1].value
    elif unit is LengthUnit.METRE and _BARE_AMOUNT.fullmatch(shape):
        size = Fraction(1)
    elif _BARE_AMOUNT.fullmatch(shape) and (unit is LengthUnit.FOOT or bare_inches is False):
        size = EXACT_FOOT
    else:
        size = EXACT_INCH
    last = next(token for token in reversed(tokens) if token.kind in "NDEF")
    if last.kind == "F":
        return size / int(last.text.partition("/")[2])
    mantissa, _, exponent = last.text.partition("e")
    decimals = len(mantissa.partition("," if decimal_comma else ".")[2])
    return size * Fraction(10) ** (int(exponent or 0) - decimals)


def parse_length(
    text: str,
    unit: LengthUnit | None = None,
    *,
    source: Source | None = None,
    bare_inches: bool | None = None,
    decimal_comma: bool = False,
) -> float:
    """Read a length as a person writes it. [m]

    ``3'-6 1/2"``, ``3 ft 6 1/2 in``, ``42.5in``, ``42½"``, ``3.54'``, ``1.083 m``, ``1083mm`` and ``-0' 3"`` are
    understood whatever the unit. The value is exact (1 ft = 0.3048 m) and rounded once, at the end.

    Parameters
    ----------
    text : str
        The length. A minus applies to all of it: ``-1' 6"`` is minus eighteen inches.
    unit : LengthUnit, optional
        What a bare number stands for. For feet and inches a bare ``3 6 1/2`` or ``3-6`` is feet and inches, but a
        single number is refused with a question, because it could be either.
    source : Source, optional
        Where the text stands, for the error.
    bare_inches : bool, optional
        For feet and inches, what a heading said of its single numbers: True for inches, False for decimal feet.
    decimal_comma : bool
        Whether ``1,083`` is a little more than one. Without it a comma is refused, with it a point is.

    Returns
    -------
    float
        The length. [m]

    Raises
    ------
    UnitError
        If the text cannot be read without guessing. It carries one fault.
    """
    length = read_length(text, unit, bare_inches, decimal_comma)
    if isinstance(length, Fault):
        raise UnitError(replace(length, source=source or Source()))
    return float(length)
