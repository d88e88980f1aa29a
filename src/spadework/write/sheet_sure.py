"""The part of the field sheet that says how sure the plan is, which shots to doubt and which to take next."""

from __future__ import annotations

from spadework.confidence import Confidence, Figure
from spadework.confidence.luck_words import luck_sentences
from spadework.confidence.words import doubtful_sentence, next_shot_sentences, reason_words
from spadework.plan import Plan
from spadework.units import LengthUnit
from spadework.write.markup import Markup, element, items, joined, table
from spadework.write.sheet_lengths import inline, length, unit_word, volume

__all__ = ["sure_part", "sure_rows"]

UNKNOWN = "The shots are too few, or the ground comes from elsewhere: how sure the plan is cannot be said."


def sure_part(plan: Plan) -> Markup:
    """Return how sure volumes, level and marks are, why, and what would make them surer."""
    found, unit = plan.confidence, plan.units
    if found is None:
        return element("p", UNKNOWN)
    figures = [
        ("Cut", *_volume_cells(found.cut, unit)),
        ("Fill", *_volume_cells(found.fill, unit)),
    ]
    parts = [
        element("p", inline([_reason(found, unit)])),
        table(("", "As drawn", "To expect", "Give or take", "In 95 cases of 100"), figures),
    ]
    if plan.luck is not None:
        parts.append(element("h3", "What luck has to do with the spot"))
        parts.append(items("ul", luck_sentences(plan.luck, plan.goal, unit, plan.search.best)))
    if found.finish is not None:
        level, doubt = length(found.finish.expected, unit), length(found.finish.sd, unit)
        words = ["The level that leaves the soil as planned is ", level, " give or take ", doubt, "."]
        parts.append(element("p", inline(words)))
    marks = [
        (stake.name, length(stake.drawn, unit, with_unit=False), length(stake.give_or_take, unit, with_unit=False))
        for stake in found.stakes
    ]
    if marks:
        heading = inline(["Good to ± [", unit_word(unit), "]"])
        caption = "How good the marks are, measured from the ground as it is found"
        parts.append(table(("Stake", "Cut +, fill −", heading), marks, caption=caption))
    if found.doubtful:
        parts += [
            element("h3", "Shots to read again"),
            items("ul", (doubtful_sentence(s, unit) for s in found.doubtful)),
        ]
    parts += [element("h3", "Where one more shot helps most"), items("ul", next_shot_sentences(found, unit))]
    return joined(parts)


def sure_rows(plan: Plan) -> list[tuple[str, str]]:
    """Return the rows of the summary: the cut and the fill to expect, each with its doubt."""
    found, unit = plan.confidence, plan.units
    if found is None:
        return []
    pairs = (("Cut to expect", found.cut), ("Fill to expect", found.fill))
    return [(words, inline([volume(figure.expected, unit), " ± ", volume(figure.sd, unit)])) for words, figure in pairs]


def _volume_cells(figure: Figure, unit: LengthUnit) -> tuple[str, ...]:
    bounds = inline([volume(max(figure.low, 0.0), unit, with_unit=False), " to ", volume(figure.high, unit)])
    return volume(figure.drawn, unit), volume(figure.expected, unit), inline(["± ", volume(figure.sd, unit)]), bounds


def _reason(found: Confidence, unit: LengthUnit) -> str:
    words = reason_words(found, unit)
    return (
        f"The cut and the fill as drawn are those of plane triangles between the shots; what to expect counts every "
        f"ground that the shots allow. They are not surer {words}."
    )
