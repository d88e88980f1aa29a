"""What to use when the tape or the references do not reach: another known point, or a peg on the way."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

from spadework.stakeout.objects import Stake
from spadework.stakeout.taping import KnownPoint, best_crossing, expected_error, is_poor, tape_covariance
from spadework.units import LengthUnit, format_inches, format_length

__all__ = ["crossing_notices", "error_words", "reach_notices", "reference_suggestion"]

MOST_TRIED = 40  # known points that a pair of references is looked for among


def error_words(metres: float, unit: LengthUnit) -> str:
    """Return a small distance in words: millimetres, hundredths of a foot, or eighths of an inch; nothing for NaN.

    Parameters
    ----------
    metres : float
        The distance. [m]
    unit : LengthUnit
        The user's unit.
    """
    if not math.isfinite(metres):
        return "" if math.isnan(metres) else "not fixed"
    if unit is LengthUnit.METRE:
        return f"{1000 * metres:.0f} mm"
    return format_length(metres, unit) if unit is LengthUnit.FOOT else format_inches(metres, parts=8)


def crossing_notices(marked: Sequence[Stake], unit: LengthUnit) -> list[str]:
    """Return a sentence for each corner whose ties cross flatly.

    Parameters
    ----------
    marked : sequence of Stake
        The corners.
    unit : LengthUnit
        The user's unit.
    """
    found = []
    for stake in marked:
        if not is_poor(stake.crossing):
            continue
        words = f"The ties of stake {stake.name} cross at {stake.crossing:.0f}°, and a small slip of the tape moves it "
        if stake.third is None:
            words += "a long way: check it by the sides and diagonals, or choose references that see it from two sides."
        else:
            third = f"{format_length(stake.third.distance, unit)} from {stake.third.reference}"
            words += (
                f"a long way: tape a third distance, {third}. The stake is then within about "
                f"{error_words(stake.expected_error, unit)}."
            )
        found.append(words)
    return found


def reach_notices(
    marked: Sequence[Stake],
    references: Sequence[KnownPoint],
    others: Sequence[KnownPoint],
    *,
    tape: float,
    sd: float,
    unit: LengthUnit,
) -> list[str]:
    """Return a sentence for each reference that the tape does not reach from, and what to use instead.

    Parameters
    ----------
    marked : sequence of Stake
        The corners.
    references, others : sequence of KnownPoint
        Points taped from, and other fixed points.
    tape, sd : float
        Length of the tape and standard deviation of one taped distance. [m]
    unit : LengthUnit
        The user's unit.
    """
    found = []
    for row, reference in enumerate(references):
        far = [(stake.name, stake.ties[row].distance) for stake in marked if stake.ties[row].distance > tape]
        if not far:
            continue
        ties = ", ".join(f"{name} {format_length(distance, unit)}" for name, distance in far)
        words = f"From {reference.name} the tape of {format_length(tape, unit)} does not reach (to {ties}): "
        kept = [point for point in references if point is not reference]
        other = _instead(marked, kept, others, tape=tape, sd=sd)
        if other is not None:
            distances = ", ".join(
                f"{stake.name} {format_length(other.distance((stake.east, stake.north)), unit)}" for stake in marked
            )
            words += f"tape from {other.name} instead (to {distances}), and name it in [stakes] references."
        else:
            pegs = "; ".join(_peg(reference.name, name, distance, tape, unit) for name, distance in far)
            words += f"choose a nearer reference, or set a peg on the way, sighted in by eye along the line. {pegs}."
        found.append(words)
    return found


def reference_suggestion(
    marked: Sequence[Stake], others: Sequence[KnownPoint], *, tape: float, sd: float, unit: LengthUnit
) -> list[str]:
    """Return, for a plan without references, which two of the known points would serve.

    Parameters
    ----------
    marked : sequence of Stake
        The corners.
    others : sequence of KnownPoint
        Fixed points of the survey.
    tape, sd : float
        Length of the tape and standard deviation of one taped distance. [m]
    unit : LengthUnit
        The user's unit.
    """
    places = [(stake.east, stake.north) for stake in marked]
    ways = []
    for pair in combinations(others[:MOST_TRIED], 2):
        longest = max(point.distance(place) for point in pair for place in places)
        worst = max(expected_error(tape_covariance(pair, place, sd)) for place in places)
        if longest <= tape and math.isfinite(worst):
            ways.append((round(worst, 9), longest, pair))
    if not ways:
        return []
    worst, longest, (one, other) = min(ways, key=lambda way: way[:2])
    return [
        (
            f"This plan names no references to tape from. {one.name} and {other.name} would serve: no tie longer than "
            f"{format_length(longest, unit)}, every corner within about {error_words(worst, unit)}. Name them in "
            "[stakes] references."
        )
    ]


def _instead(
    marked: Sequence[Stake], kept: Sequence[KnownPoint], others: Sequence[KnownPoint], *, tape: float, sd: float
) -> KnownPoint | None:
    """Return the known point from which every corner is best taped together with the references that are kept."""
    places = [(stake.east, stake.north) for stake in marked]
    ways = []
    for point in others:
        if any(point.distance(place) > tape for place in places):
            continue
        if any(is_poor(best_crossing([*kept, point], place)) for place in places):
            continue
        worst = max(expected_error(tape_covariance([*kept, point], place, sd)) for place in places)
        ways.append((round(worst, 9), point))
    return min(ways, key=lambda way: way[0])[1] if ways else None


def _peg(reference: str, stake: str, distance: float, tape: float, unit: LengthUnit) -> str:
    """Return where to set pegs between a reference and a stake."""
    lengths = math.ceil(distance / tape - 1e-9)
    part = format_length(distance / lengths, unit)
    if lengths == 2:
        return f"For {stake}: a peg {part} from {reference}, and as much again to {stake}"
    return f"For {stake}: {lengths - 1} pegs, one every {part} from {reference}"
