"""How sure a plan is, on the screen: what to expect, how good the marks are, shots to doubt and shots to take."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import click

from spadework.cli.printing import print_list

if TYPE_CHECKING:
    from spadework.confidence import Confidence, DoubtfulShot
    from spadework.units import LengthUnit

__all__ = ["print_doubtful", "print_next_shots", "print_sureness"]


def print_sureness(found: Confidence, unit: LengthUnit) -> None:
    """Print what to expect of cut and fill, and why it is not surer, as lines of the summary.

    Parameters
    ----------
    found : Confidence
        How sure the plan is.
    unit : LengthUnit
        The user's unit.
    """
    from spadework.confidence.words import reason_words, volume_words

    click.echo(f"  expect     {volume_words(found.cut, unit)} dug, {volume_words(found.fill, unit)} made up;")
    click.echo(f"             {reason_words(found, unit)}")


def print_next_shots(found: Confidence, unit: LengthUnit) -> None:
    """Print how good the marks of the stakes are, and where one more shot would help most."""
    from spadework.confidence.words import next_shot_sentences
    from spadework.units import format_length

    marks = ", ".join(f"{stake.name} ± {format_length(stake.give_or_take, unit)}" for stake in found.stakes)
    if marks:
        click.echo(f"\nMarks are good to: {marks}")
    print_list("Where one more shot helps most:", next_shot_sentences(found, unit))


def print_doubtful(shots: Iterable[DoubtfulShot], unit: LengthUnit) -> None:
    """Print the shots that do not agree with all the others."""
    from spadework.confidence.words import doubtful_sentence

    print_list("Shots to read again:", [doubtful_sentence(shot, unit) for shot in shots])
