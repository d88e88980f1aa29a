"""The part of the field sheet that says how sure the plan is, which shots to doubt and which to take next."""

from __future__ import annotations

from spadework.confidence import Confidence, Figure
from spadework.confidence.luck_words import luck_sentences
from spadework.confidence.words import doubtful_sentence, next_shot_sentences, reason_words
from spadework.placement.what_if_words import HOW, what_if_sentences
from spadework.plan import Plan
from spadework.units import LengthUnit
from spadework.write.markup import Markup, element, items, joined, table
from spadework.write.sheet_lengths import Spoken, inline, length, unit_word, volume

__all__ = ["sure_part", "sure_rows", "what_if_part"]


def what_if_part(plan: Plan) -> Markup:
    """Return what moves the value of the spot most, and where another becomes better; nothing where that is not known.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    effects, unit, say = plan.what_if or (), plan.units, Spoken(plan.units)
    said = what_if_sentences(effects, plan.search.best, plan.goal, unit, say)
    if not said:
        return Markup("")
    words = [say.words(sentence) for sentence in (*said, HOW)]
    return joined([element("h3", "What if a number is another"), items("ul", words)])


def sure_part(plan: Plan) -> Markup:
    """Return how sure volumes, level and marks are, why, and what would make them surer."""
    found, unit = plan.confidence, plan.units
    if found is None:
        return element("p", plan.unsure)
    figures = [
        ("Cut", *_volume_cells(found.cut, unit)),
        ("Fill", *_volume_cells(found.fill, unit)),
    ]
    say = Spoken(unit)
    parts = [
        element("p", say.words(_reason(found, unit, say))),
        table(("Volume", "As drawn", "To expect", "Give or take", "In 95 cases of 100"), figures),
    ]
    if plan.luck is not None:
        parts.append(element("h3", "What luck has to do with the spot"))
        luck = luck_sentences(plan.luck, plan.goal, unit, plan.search.best, say)
        parts.append(items("ul", [say.words(sentence) for sentence in luck]))
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
            items("ul", [say.words(doubtful_sentence(shot, unit, say)) for shot in found.doubtful]),
        ]
    more = [say.words(sentence) for sentence in next_shot_sentences(found, unit, say)]
    parts += [element("h3", "Where one more shot helps most"), items("ul", more)]
    return joined(parts)


def sure_rows(plan: Plan) -> list[tuple[str, str]]:
    """Return the rows of the summary: the cut and the fill to expect, each with its doubt."""
    found, unit = plan.confidence, plan.units
    if found is None:
        return [("How sure", plan.unsure)]
    pairs = (("Cut to expect", found.cut), ("Fill to expect", found.fill))
    return [(words, inline([volume(figure.expected, unit), " ± ", volume(figure.sd, unit)])) for words, figure in pairs]


def _volume_cells(figure: Figure, unit: LengthUnit) -> tuple[str, ...]:
    bounds = inline([volume(max(figure.low, 0.0), unit, with_unit=False), " to ", volume(figure.high, unit)])
    return volume(figure.drawn, unit), volume(figure.expected, unit), inline(["± ", volume(figure.sd, unit)]), bounds


def _reason(found: Confidence, unit: LengthUnit, say: Spoken) -> str:
    drawn, allow = ("the shots", "the shots allow") if found.raster is None else ("the cells", "the raster allows")
    return (
        f"The cut and the fill as drawn are those of the triangles between {drawn}; what to expect counts every ground "
        f"that {allow}. They are not surer {reason_words(found, unit, say)}."
    )
