"""Split what people write into numbers, fractions, marks and unit words, in one spelling."""

from __future__ import annotations

import difflib
import re
import unicodedata
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from spadework.errors import Fault

LONGEST_TEXT = 64
LARGEST_EXPONENT = 30

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


class Token(NamedTuple):
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


def split_length(text: str, plain: str, decimal_comma: bool) -> list[Token] | Fault:
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
            found.append(Token("F", Fraction(above, below), token))
        elif kind == "number":
            wrong = number_fault(token, decimal_comma)
            if wrong:
                return fault(text, *wrong)
            exponent = token.partition("e")[2]
            if exponent and abs(int(exponent)) > LARGEST_EXPONENT:
                return fault(text, f"has the exponent {exponent}", "no length in the field needs it", "correct it")
            letter = "E" if exponent else "N" if token.isdigit() else "D"
            found.append(Token(letter, number_value(token, decimal_comma), token))
        elif kind in {"word", "mark"}:
            word = token.removesuffix(".")
            if word not in LENGTH_WORDS:
                return _unknown_word(text, word)
            size = LENGTH_WORDS[word]
            found.append(Token("f" if size == EXACT_FOOT else "i" if size == EXACT_INCH else "u", size, word))
        elif token in {"-", ","}:
            found.append(Token(token, Fraction(0), token))
        else:
            return fault(text, f"has a {shown(token)} in it", "a length is a number and its unit", UNIT_ADVICE)
    return found


def _unknown_word(text: str, word: str) -> Fault:
    near = difflib.get_close_matches(word, LENGTH_WORDS, n=1, cutoff=0.6)
    question = f"did you mean {near[0]}? Otherwise {UNIT_ADVICE}" if near else UNIT_ADVICE
    return fault(text, f"has the word “{word}”, which is not a unit of length here", "", question)
