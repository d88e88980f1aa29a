"""Luck in the choice of a spot, on the screen: what to expect, and how much a better spot might save."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import click

from spadework.cli.printing import print_table

if TYPE_CHECKING:
    from spadework.confidence.luck import Luck, SpotLuck
    from spadework.placement import Goal, Spot
    from spadework.units import LengthUnit

__all__ = ["luck_content", "print_luck", "print_luck_words"]

WIDE = 120


def print_luck_words(luck: Luck, goal: Goal, unit: LengthUnit, taken: Spot) -> None:
    """Print what luck has to do with the spot that was taken, as sentences.

    Parameters
    ----------
    luck : Luck
        What the grounds drawn say.
    goal : Goal
        What is least.
    unit : LengthUnit
        The user's unit.
    taken : Spot
        The spot that was taken.
    """
    from spadework.confidence.luck_words import luck_sentences

    click.echo("")
    for sentence in luck_sentences(luck, goal, unit, taken):
        click.echo(textwrap.fill(sentence, WIDE, subsequent_indent="  ", break_on_hyphens=False))


def print_luck(luck: Luck, goal: Goal, unit: LengthUnit, spots: list[tuple[str, Spot]]) -> None:
    """Print a table of what is to be expected of each spot, and the sentences.

    Parameters
    ----------
    luck, goal, unit
        As for `print_luck_words`.
    spots : list of (str, Spot)
        The spots that were printed, by name; the best first.
    """
    from spadework.confidence.luck_words import expected_words, range_words
    from spadework.placement.goal_words import value_words

    names = {spot.placement: name for name, spot in spots}
    told = list(dict.fromkeys((luck.drawn, luck.pick, *luck.others)))
    told.sort(key=lambda one: one.expected)
    click.echo(f"\nBy what is to be expected, over {luck.grounds} grounds that {luck.allowed}:\n")
    print_table(
        ("spot", "as drawn", "expected", "95 of 100", "best of these", "regret"),
        (
            (
                names.get(one.spot.placement, "least expected" if one is luck.pick else "best as drawn"),
                value_words(goal, one.spot.value, unit),
                expected_words(one, goal, unit),
                range_words(one, goal, unit),
                f"{100 * one.likely_best:.0f} %",
                value_words(goal, one.regret, unit),
            )
            for one in told
        ),
    )
    print_luck_words(luck, goal, unit, spots[0][1])


def luck_content(luck: Luck | None) -> dict[str, Any] | None:
    """Return what luck has to do with the choice, for programs: values as the goal counts them, lengths in metres."""
    if luck is None:
        return None
    return {
        "grounds": luck.grounds,
        "near": luck.near,
        "best_there_is": luck.best_there_is,
        "differs": luck.differs,
        "drawn": _spot(luck.drawn),
        "least_expected": _spot(luck.pick),
        "others": [_spot(one) for one in luck.others],
    }


def _spot(one: SpotLuck) -> dict[str, Any]:
    at = one.spot.placement
    place = {name: getattr(at, name) for name in ("east", "north", "bearing", "finish")}
    names = ("expected", "sd", "low", "high", "likely_best", "near", "regret", "regret_high", "kept")
    return {**place, "drawn": one.spot.value, **{name: getattr(one, name) for name in names}, "exact": one.closed_form}
