"""What luck has to do with the choice of a spot, in the words of its user and in his unit."""

from __future__ import annotations

import math

from spadework.confidence.luck import Luck, SpotLuck
from spadework.confidence.words import Plain, Speech
from spadework.placement.alternatives import towards
from spadework.placement.goal_words import value_words
from spadework.placement.goals import Goal
from spadework.placement.spots import Spot
from spadework.units import LengthUnit

__all__ = ["NOT_THE_YARD", "expected_words", "luck_sentences", "range_words"]

NOT_THE_YARD = "The proof is about the surveyed surface, not the yard."
UNSEEN = 0.01
"""Noise of a raster that does not show between its cells is told from here on. [m]"""
SELDOM = 0.05
"""Where the best spot is near in fewer grounds, the shots do not say where it is."""


def expected_words(told: SpotLuck, goal: Goal, unit: LengthUnit) -> str:
    """Return what a spot is to be expected to cost."""
    return value_words(goal, told.expected, unit)


def range_words(told: SpotLuck, goal: Goal, unit: LengthUnit) -> str:
    """Return the bounds of what a spot costs."""
    low, high = value_words(goal, max(told.low, 0.0), unit), value_words(goal, told.high, unit)
    return f"{low.split(' ')[0]} to {high}"


def luck_sentences(luck: Luck, goal: Goal, unit: LengthUnit, taken: Spot, say: Speech | None = None) -> list[str]:
    """Return what is to be expected of the spot that was taken, what a better one might save, and which is another.

    Parameters
    ----------
    luck : Luck
        What the grounds drawn say.
    goal : Goal
        What is least.
    unit : LengthUnit
        The user's unit.
    taken : Spot
        The spot of the plan.
    say : Speech, optional
        Prints the numbers; plain text in the user's unit where not given.
    """

    def value(amount: float) -> str:
        return _value(goal, amount, unit, say)

    told = luck.pick if luck.differs and taken.placement == luck.pick.spot.placement else luck.drawn
    drawn, expected = value(told.spot.value), value(told.expected)
    bounds = range_words(told, goal, unit) if say is None else f"{value(max(told.low, 0.0))} to {value(told.high)}"
    regret, most = value(told.regret), value(told.regret_high)
    about = (
        f"{NOT_THE_YARD} As drawn this spot needs {drawn}; over every ground that {luck.allowed} {expected} is to be "
        f"expected, {bounds} in 95 cases of 100, the finish following the ground where it is free."
    )
    better = (
        f"Somebody who knew the ground would find a spot that saves {regret} more on average (the expected regret), up "
        f"to {most} in nine cases of ten. {_where_it_is(told, luck, say or Plain(unit))}"
    )
    sentences = [about, better]
    if told.kept < 1.0:
        sentences.append(
            f"In {_hundred(1.0 - told.kept)} of 100 grounds no finish level keeps every limit at this spot: "
            f"{_more(luck)} there before you dig."
        )
    if luck.unseen > UNSEEN:
        unseen = (say or Plain(unit)).length(luck.unseen)
        sentences.append(
            f"The raster's neighbouring cells agree better than the noise said of them lets them: {unseen} of it "
            "(standard deviation) may be alike over several cells, which these bounds do not see. A few shots on the "
            "spot tell."
        )
    if luck.differs:
        sentences.append(_other(luck, told, goal, unit, say))
    return sentences


def _where_it_is(told: SpotLuck, luck: Luck, say: Speech) -> str:
    """Return how often the best spot is near."""
    near = say.rough(luck.near)
    if told.near < SELDOM:
        who = luck.allowed_by[0].upper() + luck.allowed_by[1:]
        does = "does" if luck.allowed_by == "the raster" else "do"
        return f"{who} {does} not say where that spot is: hardly ever within {near} of this one."
    return f"In {_hundred(told.near)} of 100 grounds that spot lies within {near} of this one."


def _more(luck: Luck) -> str:
    """Return what to do where limits may not be kept."""
    return "take a few more shots" if "shots" in luck.allowed_by else "tie the raster to a few shots"


def _other(luck: Luck, told: SpotLuck, goal: Goal, unit: LengthUnit, say: Speech | None) -> str:
    """Return which spot the surface and the grounds disagree about."""
    other = luck.drawn if told is luck.pick else luck.pick
    here, there = told.spot.placement, other.spot.placement
    shift = (there.east - here.east, there.north - here.north)
    turned = abs((there.bearing - here.bearing + 90.0) % 180.0 - 90.0)
    spoken = say or Plain(unit)
    away = f"{spoken.length(math.hypot(*shift))} to the {towards(*shift)}"
    where = f"{away}, turned {turned:.0f}°" if turned >= 1 else away
    place = (
        f"middle at east {spoken.length(there.east)}, north {spoken.length(there.north)}, bearing {there.bearing:.1f}°"
    )
    drawn, expected = (_value(goal, amount, unit, say) for amount in (other.spot.value, other.expected))
    if told is luck.pick:
        return (
            f"Taken is the spot of least expected cost, as the site file asks. The best spot of the drawn surface lies "
            f"{where} ({place}): {drawn} as drawn, {expected} to be expected."
        )
    return (
        f"Another spot has the least expected cost: {where} ({place}), {drawn} as drawn, {expected} to be expected. "
        'Set [goal] rank = "expected" to take it.'
    )


def _value(goal: Goal, amount: float, unit: LengthUnit, say: Speech | None) -> str:
    """Return a value of the goal; volumes and heights as they are to be spoken."""
    if say is not None and goal.unit == "m³":
        return say.volume(amount, 3)
    return say.length(amount) if say is not None and goal.unit == "m" else value_words(goal, amount, unit)


def _hundred(share: float) -> str:
    """Return a share of a hundred, never rounded to none or all."""
    return str(min(max(round(100 * share), 1), 99)) if 0 < share < 1 else str(round(100 * share))
