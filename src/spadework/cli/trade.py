"""The trade-off front of two goals, and what if a number were another, on the screen and for programs."""

from __future__ import annotations

import math
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from spadework.cli.printing import hint, print_json, print_table
from spadework.errors import Fault, InputError, Source

if TYPE_CHECKING:
    from spadework.placement import Goal, ProofEffort, SearchResult, Spot
    from spadework.placement.front import Front, FrontPoint
    from spadework.placement.what_if import Effect
    from spadework.plan import PlanInputs
    from spadework.units import LengthUnit

__all__ = ["goals_of", "print_effects", "print_front", "print_what_if"]

WIDE = 120


def goals_of(inputs: PlanInputs, words: str) -> tuple[Goal, Goal]:
    """Return the two goals that ``--front`` names.

    Parameters
    ----------
    inputs : PlanInputs
        With the prices and rates.
    words : str
        Two words with a comma between them.

    Raises
    ------
    InputError
        Unless there are two different ones that are known.
    """
    from spadework.placement import goal_from
    from spadework.placement.goal_terms import WHOLE

    names = [word.strip().lower() for word in words.split(",")]
    rule = f"a front is between two of {', '.join(WHOLE)}, with a comma between them"
    if len(names) != 2 or names[0] == names[1] or not set(names) <= set(WHOLE):
        raise InputError(Fault(f"--front {words} names no two goals", rule, "Give two, such as --front digging,wall"))
    assert inputs.terms is not None  # noqa: S101 -- a site file gives them
    one, other = (goal_from(name, inputs.terms, Source("--front")) for name in names)
    return one, other


def print_front(inputs: PlanInputs, words: str, picture: Path | None, effort: ProofEffort, *, as_json: bool) -> None:
    """Find the front of two goals and print it.

    Parameters
    ----------
    inputs : PlanInputs
        The site.
    words : str
        The two goals.
    picture : Path, optional
        Where to draw it.
    effort : ProofEffort
        When each proof may stop.
    as_json : bool
        Whether for programs.
    """
    from spadework.placement.goal_words import value_words
    from spadework.plan_front import front_of
    from spadework.units import format_length

    one, other = goals_of(inputs, words)
    hint(f"Searching the front of {one.name} and {other.name}")
    front = front_of(inputs, one, other, effort)
    if picture is not None:
        from spadework.write.front_picture import front_bytes

        try:
            picture.write_bytes(front_bytes(inputs, one, other, front, picture.suffix.lower()))
        except OSError as error:
            raise InputError(Fault(f"{picture} cannot be written: {error.strerror}", "", "Choose another")) from error
    if as_json:
        print_json(
            {
                "name": inputs.name,
                "unit": "m",
                "goals": [one.name, other.name],
                "how": _HOW,
                "front": [_point(point, front) for point in front.points],
            }
        )
        return
    unit = inputs.units
    click.echo(f"{inputs.name}: the front of {one.name} and {other.name}. Lengths in {unit.value}.\n")
    print_table(
        (one.name, other.name, "east", "north", "bearing", "finish", f"{one.name} at least", "how"),
        (
            (
                value_words(one, point.first, unit),
                value_words(other, point.second, unit),
                format_length(point.spot.placement.east, unit, with_unit=False),
                format_length(point.spot.placement.north, unit, with_unit=False),
                f"{point.spot.placement.bearing:.1f}°",
                format_length(point.spot.placement.finish, unit, with_unit=False),
                value_words(one, least, unit, "down") if (least := front.least_first(point.second)) > 0 else "",
                _how(point),
            )
            for point in front.points
        ),
        text_columns=(7,),
    )
    click.echo("\n" + textwrap.fill(_HOW, WIDE, break_on_hyphens=False))


_HOW = (
    "No spot that was found is better in both goals than one of these. Proved: no spot allowed here has a lower "
    "weighted sum of the two, but for the gap. Searched: found where no weights lead, by a search without a proof. At "
    "least: what the proved sums say that the first goal is, at any spot, where the second is no more than here."
)


def _how(point: FrontPoint) -> str:
    """Return how a point was found, and its gap."""
    if point.proof is None:
        return "searched"
    return f"proved to {100 * point.proof.gap:.1f} %" + ("" if point.proof.finished else ", stopped")


def _point(point: FrontPoint, front: Front) -> dict[str, Any]:
    at, proof, least = point.spot.placement, point.proof, front.least_first(point.second)
    return {
        "first": point.first,
        "second": point.second,
        "first_at_least": least if math.isfinite(least) else None,
        **{name: getattr(at, name) for name in ("east", "north", "bearing", "finish")},
        "found": "searched" if proof is None else "proved",
        "proved": proof is not None,
        "share_of_second": point.share,
        "gap": None if proof is None else proof.gap,
        "weighted_sum": None if proof is None else proof.best,
        "lower_bound": None if proof is None else proof.lower_bound,
    }


def print_effects(inputs: PlanInputs, search: SearchResult, effects: tuple[Effect, ...]) -> None:
    """Print what each assumption does, the strongest first.

    Parameters
    ----------
    inputs : PlanInputs
        The site.
    search : SearchResult
        What was found for the likely numbers.
    effects : tuple of Effect
        One for each number.
    """
    from spadework.placement.goal_words import value_words
    from spadework.placement.what_if_words import HOW, kept_words, moved_words, number_words

    goal, unit, best = inputs.goal, inputs.units, search.best

    def row(effect: Effect) -> tuple[str, ...]:
        one, ends = effect.assumption, (effect.low, effect.high)
        return (
            one.name,
            *(number_words(one, number, unit) for number in (one.low, one.likely, one.high)),
            *(kept_words(end, goal, unit) for end in ends),
            *(moved_words(end, best, goal, unit) for end in ends),
            ", ".join(number_words(one, flip.number, unit) for flip in effect.flips) or "nowhere",
        )

    base = value_words(goal, best.value, unit)
    click.echo(f"\nWhat if a number is another? One at a time; the chosen spot has {base} now.\n")
    if not effects:
        click.echo("The goal rests on no number that has a range.")
        return
    print_table(
        ("number", "low", "likely", "high", "value at low", "value at high", "best at low", "best at high", "flips at"),
        map(row, effects),
    )
    print_what_if(effects, best, goal, unit)
    click.echo(textwrap.fill(HOW, WIDE, subsequent_indent="  ", break_on_hyphens=False))


def print_what_if(effects: tuple[Effect, ...], chosen: Spot, goal: Goal, unit: LengthUnit) -> None:
    """Print what the numbers that were assumed do, as sentences.

    Parameters
    ----------
    effects : tuple of Effect
        The strongest first.
    chosen : Spot
        The spot that was chosen.
    goal : Goal
        What is least.
    unit : LengthUnit
        The user's unit.
    """
    from spadework.placement.what_if_words import what_if_sentences

    for number, sentence in enumerate(what_if_sentences(effects, chosen, goal, unit)):
        lead = "" if number else "\n"
        click.echo(lead + textwrap.fill(sentence, WIDE, subsequent_indent="  ", break_on_hyphens=False))
