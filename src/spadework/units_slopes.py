"""Read slopes and angles as people write them, and refuse what could mean two things."""

from __future__ import annotations

import math
import re
from fractions import Fraction

from spadework.errors import Fault, Source
from spadework.units_length import read_length
from spadework.units_volumes import refusal, split_amount
from spadework.units_words import LONGEST_TEXT, fault, plain_text

_SLOPE_ADVICE = "write 5 %, 1:20, 1 in 20, 3 deg or 1/4 in per ft"
_RATIO = re.compile(r"([^:/]+?)(v|h)? ?(:|/| in ) ?([^:/]+?)(v|h)?")
_DMS = re.compile(
    r"([+-]?) ?([0-9]+)(?: ?(?:°|deg|degrees|d) ?|[ -])([0-9]{1,2}(?:\.[0-9]+)?)"
    r"(?:(?: ?(?:'|min|m) ?|[ -])([0-9]{1,2}(?:\.[0-9]+)?) ?(?:\"|sec|s)?| ?(?:'|min|m))?"
)


def _plain_number(text: str, decimal_comma: bool) -> Fraction | None:
    """Return the value of a text that is a number and nothing else."""
    split = split_amount(text, plain_text(text), decimal_comma)
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
    elif letters == ("", "") and match[3] == ":" and abs(first) not in {1, last}:
        up, along = match[1].strip(), match[4].strip()
        return fault(
            text,
            f"could be {up} along for {along} up, or {up} up for {along} along: which?",
            "a slope is rise to run, and both orders are in use",
            f"write {up}H:{along}V, or {up}V:{along}H",
        )
    elif letters not in {("", ""), ("v", "h")}:
        return fault(text, "says H or V on one side only, or twice", "a ratio has one V and one H", _SLOPE_ADVICE)
    if last <= 0:
        return fault(text, "has no run", "a slope is rise over run, and the run is above 0", _SLOPE_ADVICE)
    return first / last


def _slope(text: str, decimal_comma: bool) -> float | Fault:
    if len(text) > LONGEST_TEXT:
        return fault(text, "is too long for a slope", f"it has at most {LONGEST_TEXT} characters", _SLOPE_ADVICE)
    plain = plain_text(text)
    if plain in {"level", "flat"}:
        return 0.0
    lengths = _length_ratio(plain, decimal_comma)
    if lengths is not None:
        return float(lengths)
    ratio = _ratio(text, plain, decimal_comma)
    if ratio is not None:
        return ratio if isinstance(ratio, Fault) else float(ratio)
    split = split_amount(text, plain, decimal_comma)
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
    ``1/4 in per ft`` and ``6 in in 10 ft`` are understood. A bare number is refused, and so are ``2:1`` and
    ``0.5:1``: whether the rise or the run comes first differs from country to country.

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
        raise refusal(source, slope)
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
    split = split_amount(text, plain, decimal_comma)
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
        raise refusal(source, angle)
    return angle
