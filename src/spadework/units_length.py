"""Read one length as people write it, exactly, and refuse what could mean two things."""

from __future__ import annotations

import difflib
import re
import unicodedata
from dataclasses import replace
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from spadework.errors import Fault, Source, UnitError

LONGEST_TEXT = 64
LARGEST_EXPONENT = 30
FARTHEST = Fraction(100_000_000)

FOOT = 0.3048
EXACT_FOOT = Fraction(3048, 10_000)
EXACT_INCH = EXACT_FOOT / 12


class LengthUnit(StrEnum):
    """What a bare number in a file stands for."""

    METRE = "m"
    FOOT = "ft"
    FOOT_INCH = "ft-in"


LENGTH_WORDS: dict[str, Fraction] = {
    **dict.fromkeys(("'", "ft", "foot", "feet"), EXACT_FOOT),
    **dict.fromkeys(('"', "in", "ins", "inch", "inches"), EXACT_INCH),
    **dict.fromkeys(("yd", "yds", "yard", "yards"), 3 * EXACT_FOOT),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), Fraction(1)),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), Fraction(1, 100)),
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), Fraction(1, 1000)),
    **dict.fromkeys(("km", "kilometre", "kilometres", "kilometer", "kilometers"), Fraction(1000)),
}
UNIT_ADVICE = "write the unit as m, cm, mm, ft or in, or feet and inches as 3' 6 1/2\""

_SPACES_IN_NUMBERS = "\u00a0\u2007\u2008\u2009\u202f"
_GROUPED = re.compile(rf"(?<![0-9.,])[0-9]{{1,3}}(?:[{_SPACES_IN_NUMBERS}][0-9]{{3}})+(?![0-9])")
_TOKEN = re.compile(
    r"(?P<fraction>[0-9]+/[0-9]+)"
    r"|(?P<number>(?:[.,]?[0-9])+\.?(?:e[+-]?[0-9]+)?)"
    r"|(?P<word>[a-zµ]+\.?)"
    r"|(?P<mark>['\"])"
    r"|(?P<other>\S)"
)
_AMOUNT = re.compile(r"(?P<whole>[ND])?-?(?P<part>F)?")
_FEET_AND_INCHES = re.compile(r"[NDF]f[-,]?(?:[ND]|N-?F|F)i?")
_ONE_UNIT = re.compile(r"(?:[NDE]|N-?F|F)[fiu]")
_BARE_FEET_AND_INCHES = re.compile(r"N-?(?:[ND]|N-?F)")
_BARE_AMOUNT = re.compile(r"[NDE]|N-?F|F")
_SPACED_OUT = re.compile(r"(?<![0-9.])[0-9]{1,3} [0-9]{3}(?![0-9])")
_LETTERS_AS_DIGITS = re.compile(r"(?<=[0-9.,])[oOlI]|[oOlI](?=[0-9.,])")


def _fraction_text(character: str) -> str:
    """Return ``1/2`` for ``½``."""
    return unicodedata.normalize("NFKC", character).replace("\u2044", "/")


_SAME_CHARACTER = str.maketrans(
    {
        **dict.fromkeys("\u2212\u2010\u2011\u2012\u2013\u2014\ufe63\uff0d", "-"),
        **dict.fromkeys("\u2032\u2018\u2019\u02b9\u00b4\u02bc\uff07`", "'"),
        **dict.fromkeys("\u2033\u201c\u201d\u02ba\u02dd\u3003\uff02", '"'),
        **dict.fromkeys("\u2044\u2215", "/"),
        **dict.fromkeys("\ufeff\u200b\u200c\u200d\u200e\u200f\u2060", ""),
        **{character: f" {_fraction_text(character)} " for character in "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒"},
    }
)


class _Token(NamedTuple):
    """One word, mark or number of a length: its kind in one letter, and what it is worth."""

    kind: str
    value: Fraction
    text: str


def plain_text(text: str) -> str:
    """Return the text in lower case with one kind of minus, prime, quote, fraction bar and space."""
    joined = _GROUPED.sub(lambda group: re.sub(rf"[{_SPACES_IN_NUMBERS}]", "", group[0]), text)
    plain = " ".join(joined.translate(_SAME_CHARACTER).lower().split())
    return plain.replace("''", '"').replace(" /", "/").replace("/ ", "/")


def shown(text: str) -> str:
    """Return the text as it is quoted in a message: printable, not too long, in curly quotes."""
    cut = text[:LONGEST_TEXT] + ("…" if len(text) > LONGEST_TEXT else "")
    return "“" + "".join(character if character.isprintable() else "\ufffd" for character in cut) + "”"


def fault(text: str, what: str, rule: str = "", remedy: str = "") -> Fault:
    """Return the fault of a text, its value cut to what a reader can take in."""
    return Fault(f"{shown(text)} {what}", rule, remedy, value=text[:LONGEST_TEXT])


def number_fault(digits: str, decimal_comma: bool) -> tuple[str, str, str] | None:
    """Return what is wrong with the separators of a number (what, rule, remedy), or None."""
    mantissa = digits.partition("e")[0]
    if decimal_comma:
        if "," in mantissa and re.fullmatch(r"[0-9]*,[0-9]+|[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+", mantissa):
            return None
        if "." in mantissa or "," in mantissa:
            return (
                "has a decimal point, or two separators, where decimal commas were said",
                "in a file with decimal commas 1,083 is a little over one, and 1.083 could be a thousand",
                f"write {mantissa.replace('.', ',')}, or say that the file uses decimal points",
            )
        return None
    if "," in mantissa:
        if re.fullmatch(r"[0-9]{1,3}(?:,[0-9]{3})+\.[0-9]+", mantissa):
            return None
        grouped = re.fullmatch(r"[0-9]{1,3}(?:,[0-9]{3})+", mantissa)
        without = f" or {mantissa.replace(',', '')}" if grouped else ""
        return (
            "has a comma in its number",
            "a comma can be a decimal comma (1,5 is one and a half) or set thousands apart (1,083 is over a thousand)",
            f"write {mantissa.replace(',', '.')}{without}, or say that the file uses decimal commas",
        )
    if mantissa.count(".") > 1:
        return ("has more than one decimal point", "a number has at most one", "correct it")
    return None


def number_value(digits: str, decimal_comma: bool) -> Fraction:
    """Return the exact value of a number whose separators were found sound."""
    thousands, point = (".", ",") if decimal_comma else (",", ".")
    return Fraction(digits.replace(thousands, "").replace(point, "."))


def _tokens(text: str, plain: str, decimal_comma: bool) -> list[_Token] | Fault:
    """Split a length into its tokens, or say which of them is not understood."""
    found = []
    for match in _TOKEN.finditer(plain):
        token = match[0]
        kind = match.lastgroup
        if kind == "fraction":
            above, below = (int(part) for part in token.split("/"))
            if above >= below:
                return fault(
                    text,
                    f"has the fraction {token}",
                    "a fraction is less than one, like 1/2 or 7/8",
                    "leave a space between the whole number and its fraction: 3 1/2",
                )
            found.append(_Token("F", Fraction(above, below), token))
        elif kind == "number":
            wrong = number_fault(token, decimal_comma)
            if wrong:
                return fault(text, *wrong)
            exponent = token.partition("e")[2]
            if exponent and abs(int(exponent)) > LARGEST_EXPONENT:
                return fault(text, f"has the exponent {exponent}", "no length in the field needs it", "correct it")
            letter = "E" if exponent else "N" if token.isdigit() else "D"
            found.append(_Token(letter, number_value(token, decimal_comma), token))
        elif kind in {"word", "mark"}:
            word = token.removesuffix(".")
            if word not in LENGTH_WORDS:
                return _unknown_word(text, word)
            size = LENGTH_WORDS[word]
            found.append(_Token("f" if size == EXACT_FOOT else "i" if size == EXACT_INCH else "u", size, word))
        elif token in {"-", ","}:
            found.append(_Token(token, Fraction(0), token))
        else:
            return fault(text, f"has a “{token}” in it", "a length is a number and its unit", UNIT_ADVICE)
    return found


def _unknown_word(text: str, word: str) -> Fault:
    near = difflib.get_close_matches(word, LENGTH_WORDS, n=1, cutoff=0.6)
    question = f"did you mean {near[0]}? Otherwise {UNIT_ADVICE}" if near else UNIT_ADVICE
    return fault(text, f"has the word “{word}”, which is not a unit of length here", "", question)


def _amount(tokens: list[_Token]) -> Fraction:
    """Return a whole number, a decimal, a fraction, or a whole number and a fraction."""
    return sum((token.value for token in tokens if token.kind in "NDEF"), Fraction(0))


def _inches_after_feet(text: str, tokens: list[_Token]) -> Fraction | Fault:
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


def _feet_and_inches(text: str, tokens: list[_Token]) -> Fraction | Fault:
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


def _bare(text: str, tokens: list[_Token], unit: LengthUnit | None, bare_inches: bool | None) -> Fraction | Fault:
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
    tokens = _tokens(text, plain[1:] if plain[0] in "+-" else plain, decimal_comma)
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
