"""Read slopes, angles, areas and volumes as people write them, and refuse what could mean two things."""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import replace
from fractions import Fraction

from spadework.errors import Fault, Source, UnitError
from spadework.units_length import (
    EXACT_FOOT,
    LONGEST_TEXT,
    LengthUnit,
    fault,
    number_fault,
    number_value,
    plain_text,
    read_length,
)

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
_SLOPE_ADVICE = "write 5 %, 1:20, 1 in 20, 3 deg or 1/4 in per ft"
_RATIO = re.compile(r"([^:/]+?)(v|h)? ?(:|/| in ) ?([^:/]+?)(v|h)?")
_DMS = re.compile(
    r"([+-]?) ?([0-9]+)(?: ?(?:°|deg|degrees|d) ?|[ -])([0-9]{1,2}(?:\.[0-9]+)?)"
    r"(?:(?: ?(?:'|min|m) ?|[ -])([0-9]{1,2}(?:\.[0-9]+)?) ?(?:\"|sec|s)?| ?(?:'|min|m))?"
)


def _refuse(source: Source | None, wrong: Fault) -> UnitError:
    return UnitError(replace(wrong, source=source or Source()))


def _split_amount(text: str, plain: str, decimal_comma: bool) -> tuple[Fraction, str] | Fault:
    """Split ``2 1/2 cubic yards`` into its exact amount and its words."""
    if len(text) > LONGEST_TEXT:
        return fault(text, "is too long for one amount", f"it has at most {LONGEST_TEXT} characters", "shorten it")
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
    plain = (
        plain_text(text)
        .replace("²", "2")
        .replace("³", "3")
        .replace("^", "")
        .replace("cu. ", "cu ")
        .replace("sq. ", "sq ")
    )
    split = _split_amount(text, plain, decimal_comma)
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
        raise _refuse(source, volume)
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
        raise _refuse(source, area)
    return float(area)


def _plain_number(text: str, decimal_comma: bool) -> Fraction | None:
    """Return the value of a text that is a number and nothing else."""
    split = _split_amount(text, plain_text(text), decimal_comma)
    return split[0] if not isinstance(split, Fault) and not split[1] else None


def _length_ratio(plain: str, decimal_comma: bool) -> Fraction | None:
    """Return the slope of ``1/4 in per ft`` or ``6 in in 10 ft``: a length up for a length along."""
    for word in (" per ", " over ", " in "):
        rise, found, run = plain.rpartition(word)
        if not found:
            continue
        run = run.strip()
        up = read_length(rise, None, None, decimal_comma)
        along = read_length(run if re.match(r"[-+.,0-9]", run) else f"1 {run}", None, None, decimal_comma)
        if isinstance(up, Fraction) and isinstance(along, Fraction) and along > 0:
            return up / along
    return None


def _ratio(text: str, plain: str, decimal_comma: bool) -> Fraction | Fault | None:
    """Return the slope of ``1:1.5``, ``1 in 20``, ``4/12`` or ``2H:1V``, or what is wrong with it."""
    match = _RATIO.fullmatch(plain)
    if not match:
        return None
    first, last = _plain_number(match[1], decimal_comma), _plain_number(match[4], decimal_comma)
    if first is None or last is None:
        return None
    letters = (match[2] or "", match[5] or "")
    if letters == ("h", "v"):
        first, last = last, first
    elif letters == ("", "") and match[3] == ":" and abs(first) > 1:
        up, along = match[1].strip(), match[4].strip()
        return fault(
            text,
            f"could be {up} along for {along} up, or {up} up for {along} along: which?",
            "a slope is rise to run, and both orders are in use",
            f"write {along}:{up} for the gentle one, or {up}V:{along}H for the steep one",
        )
    elif letters not in {("", ""), ("v", "h")}:
        return fault(text, "says H or V on one side only, or twice", "a ratio has one V and one H", _SLOPE_ADVICE)
    if last <= 0:
        return fault(text, "has no run", "a slope is rise over run, and the run is above 0", _SLOPE_ADVICE)
    return first / last


def _slope(text: str, decimal_comma: bool) -> float | Fault:
    plain = plain_text(text)
    if len(text) > LONGEST_TEXT:
        return fault(text, "is too long for a slope", f"it has at most {LONGEST_TEXT} characters", _SLOPE_ADVICE)
    if plain in {"level", "flat"}:
        return 0.0
    lengths = _length_ratio(plain, decimal_comma)
    if lengths is not None:
        return float(lengths)
    ratio = _ratio(text, plain, decimal_comma)
    if ratio is not None:
        return ratio if isinstance(ratio, Fault) else float(ratio)
    split = _split_amount(text, plain, decimal_comma)
    if isinstance(split, Fault):
        return split
    amount, word = split
    if word in {"%", "percent", "per cent", "pct"}:
        return float(amount / 100)
    if word in {"‰", "per mil", "permil", "mm/m", "mm per m"}:
        return float(amount / 1000)
    if word in {"°", "deg", "degree", "degrees"}:
        if abs(amount) >= 90:
            return fault(text, "is vertical or beyond", "a slope is less than 90°", "correct it")
        return math.tan(math.radians(amount))
    if not word:
        return fault(text, "could be percent, degrees, or rise over run: which?", "", _SLOPE_ADVICE)
    return fault(text, "is not understood as a slope", "", _SLOPE_ADVICE)


def parse_slope(text: str, *, source: Source | None = None, decimal_comma: bool = False) -> float:
    """Read a slope as rise over run.

    ``5 %``, ``1:1.5`` (1 up in 1.5 along), ``1 in 20``, ``4/12``, ``2H:1V``, ``1V:2H``, ``2°``, ``5 ‰``,
    ``1/4 in per ft`` and ``6 in in 10 ft`` are understood. A bare number is refused, and so is ``2:1``: whether the
    rise or the run comes first differs from country to country.

    Returns
    -------
    float
        Rise over run: 0.05 for 5 %.

    Raises
    ------
    UnitError
        If the text cannot be read without guessing.
    """
    slope = _slope(text, decimal_comma)
    if isinstance(slope, Fault):
        raise _refuse(source, slope)
    return slope


def _angle(text: str, decimal_comma: bool) -> float | Fault:
    if len(text) > LONGEST_TEXT:
        return fault(text, "is too long for an angle", f"it has at most {LONGEST_TEXT} characters", "shorten it")
    plain = plain_text(text)
    advice = "write decimal degrees (12.5), or degrees, minutes and seconds (12-30-00)"
    quadrant = re.fullmatch(r"([ns]) ?(.+?) ?([ew])", plain)
    if quadrant:
        inner = _angle(quadrant[2], decimal_comma)
        if isinstance(inner, Fault) or not 0 <= inner <= 90:
            return fault(text, "is not a bearing in a quadrant", "between N or S and E or W stand 0° to 90°", advice)
        return {"ne": inner, "se": 180 - inner, "sw": 180 + inner, "nw": (360 - inner) % 360}[quadrant[1] + quadrant[3]]
    sexagesimal = _DMS.fullmatch(plain)
    if sexagesimal:
        sign, degrees, minutes, seconds = sexagesimal.groups()
        if Fraction(minutes) >= 60 or Fraction(seconds or 0) >= 60 or ("." in minutes and seconds):
            return fault(
                text, "has 60 or more minutes or seconds, or both and a fraction", "each is less than 60", advice
            )
        angle = int(degrees) + Fraction(minutes) / 60 + Fraction(seconds or 0) / 3600
        return float(-angle if sign == "-" else angle)
    split = _split_amount(text, plain, decimal_comma)
    if isinstance(split, Fault):
        return split
    amount, word = split
    if word in {"", "°", "deg", "degree", "degrees"}:
        return float(amount)
    if word in {"gon", "grad", "grads"}:
        return float(amount * Fraction(9, 10))
    return fault(text, "is not understood as an angle", "", advice)


def parse_angle(text: str, *, source: Source | None = None, decimal_comma: bool = False) -> float:
    """Read an angle or a bearing. [deg]

    ``12.5``, ``12.5°``, ``12° 30' 15"``, ``12-30-15``, ``12 30``, ``50 gon`` and the quadrant bearing ``S68-05-27W``
    are understood; a bare number is degrees.

    Raises
    ------
    UnitError
        If the text cannot be read without guessing.
    """
    angle = _angle(text, decimal_comma)
    if isinstance(angle, Fault):
        raise _refuse(source, angle)
    return angle
