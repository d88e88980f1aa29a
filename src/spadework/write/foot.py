"""What stands at the foot of every drawing: rules set aside, origin, how the numbers were got, and the cautions."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.figure import Figure

from spadework.plan import Plan
from spadework.write.sheet_words import origin_words, sure_words
from spadework.write.wrapping import wrapped

__all__ = ["MARGIN", "foot_parts", "write_foot"]

SIZE = 5.6
LINE = 0.098
MARGIN = 0.35
"""Inches; the type is in points."""

Part = tuple[str, bool]
"""Words, and whether they are set in bold."""


def foot_parts(plan: Plan) -> tuple[Part, ...]:
    """Return what belongs at the foot of a plan's drawings.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    origin = ". ".join(f"{name}: {value}" for name, value in origin_words(plan))
    cautions = " ".join(caution.text for caution in plan.cautions)
    parts = [*((words, True) for words in plan.overrides), (f"{origin}.", False)]
    if plan.how:
        parts.append((f"How the numbers were got: {' '.join(plan.how)}", False))
    parts.append((f"How sure. {sure_words(plan)}", False))
    return (*parts, (f"Cautions: {cautions}", False))


def write_foot(figure: Figure, parts: Sequence[Part]) -> float:
    """Write the foot of a page, and return how high it stands. [in]

    Parameters
    ----------
    figure : Figure
        The page.
    parts : sequence of (str, bool)
        Paragraphs from the top, and whether each is bold.
    """
    wide, high = figure.get_size_inches()
    room = (wide - 2 * MARGIN) * 72
    lines = [
        (text, weight)
        for words, bold in parts
        for weight in ("bold" if bold else "normal",)
        for text in wrapped(figure, words, room, SIZE, weight=weight)
    ]
    for row, (text, weight) in enumerate(reversed(lines)):
        place = (0.2 + row * LINE) / high
        figure.text(MARGIN / wide, place, text, fontsize=SIZE, fontweight=weight, va="bottom", parse_math=False)
    return 0.2 + len(lines) * LINE if lines else 0.0
