"""The part of the paper sheet that says how sure the plan is, which shots to doubt and which to take next."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from spadework.confidence import Figure
from spadework.confidence.words import doubtful_sentence, next_shot_sentences
from spadework.placement.what_if_words import HOW, what_if_sentences
from spadework.plan import Plan
from spadework.units import LengthUnit, format_length, format_volume
from spadework.write.pdf_parts import grid, heading, numbered, words
from spadework.write.sheet_words import sure_words

__all__ = ["sure_pages"]


def sure_pages(plan: Plan, wide: float) -> Iterator[Any]:
    """Yield how sure volumes, level and marks are, why, and what would make them surer; or why that is not known.

    Parameters
    ----------
    plan : Plan
        The plan.
    wide : float
        Room across. [points]
    """
    found, unit = plan.confidence, plan.units
    yield heading("How sure the plan is")
    yield words(sure_words(plan))
    if found is None:
        yield from _what_if(plan)
        return
    rows = [_row("Cut", found.cut, unit, volume=True), _row("Fill", found.fill, unit, volume=True)]
    if found.finish is not None:
        rows.append(_row("Level that leaves the soil as planned", found.finish, unit, volume=False))
    heads = ("", "As drawn", "To expect", "Give or take", "In 95 cases of 100")
    yield grid(heads, rows, [wide * share for share in (0.28, 0.16, 0.16, 0.16, 0.24)])
    if found.doubtful:
        yield heading("Shots to read again")
        yield numbered((doubtful_sentence(shot, unit) for shot in found.doubtful), bullets=True)
    yield heading("Where one more shot helps most")
    yield numbered(next_shot_sentences(found, unit), bullets=True)
    yield from _what_if(plan)


def _what_if(plan: Plan) -> Iterator[Any]:
    """Yield what the numbers that were assumed do."""
    said = what_if_sentences(plan.what_if or (), plan.search.best, plan.goal, plan.units)
    if said:
        yield heading("What if a number is another")
        yield numbered((*said, HOW), bullets=True)


def _row(name: str, figure: Figure, unit: LengthUnit, *, volume: bool) -> list[str]:
    """Return the cells of one figure."""

    def text(value: float) -> str:
        return format_volume(value, unit) if volume else format_length(value, unit)

    low = max(figure.low, 0.0) if volume else figure.low
    bounds = f"{text(low)} to {text(figure.high)}"
    return [name, text(figure.drawn), text(figure.expected), f"± {text(figure.sd)}", bounds]
