"""Draws the cutting list: every timber that is bought, to scale, with the pieces cut from it and what is left over."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from spadework.build.cutting import CuttingList, Timber
from spadework.build.words import small
from spadework.units import LengthUnit, format_length
from spadework.write.canvas import drawing_settings, empty_figure
from spadework.write.foot import write_foot

__all__ = ["cutting_page"]

WIDE = 8.27  # A4 upright [in]
ACROSS = 6.4
PAGE_HIGH = 11.69
ROW = 0.36
PIECE: dict[str, Any] = {"facecolor": "#e8d3b0", "edgecolor": "black", "linewidth": 0.7}
OFFCUT: dict[str, Any] = {"facecolor": "white", "edgecolor": "0.5", "linewidth": 0.5, "hatch": "////"}


def cutting_page(
    cutting: CuttingList, *, title: str, unit: LengthUnit, foot: Sequence[tuple[str, bool]] = ()
) -> Figure:
    """Return the page.

    Parameters
    ----------
    cutting : CuttingList
        What is drawn: one row for each timber, one ``piece:`` artist for each piece.
    title : str
        Name and date.
    unit : LengthUnit
        Unit of the measures.
    foot : sequence of (str, bool)
        What stands at the foot of the page, and whether it is bold.
    """
    with drawing_settings():
        footing = max(write_foot(empty_figure(WIDE, PAGE_HIGH), foot), 0.15)
        high = 1.0 + footing + ROW * len(cutting.timbers)
        figure = empty_figure(WIDE, high)
        write_foot(figure, foot)
        longest = max(timber.stock.length for timber in cutting.timbers)
        axes = figure.add_axes((1.1 / WIDE, (footing + 0.1) / high, ACROSS / WIDE, ROW * len(cutting.timbers) / high))
        axes.set_xlim(0, longest)
        axes.set_ylim(len(cutting.timbers), 0)
        axes.axis("off")
        for row, timber in enumerate(cutting.timbers):
            _draw(axes, timber, row, cutting, unit)
        figure.text(0.35 / WIDE, 1 - 0.2 / high, title, fontsize=11, fontweight="bold", va="top", parse_math=False)
        for row, words in enumerate(_words(cutting, unit)):
            place = 1 - (0.45 + 0.15 * row) / high
            figure.text(0.35 / WIDE, place, words, fontsize=7, va="top", parse_math=False)
    return figure


def _draw(axes: Axes, timber: Timber, row: int, cutting: CuttingList, unit: LengthUnit) -> None:
    """Draw one timber."""
    longest = axes.get_xlim()[1]
    axes.add_patch(Rectangle((0, row + 0.15), timber.stock.length, 0.7, gid=f"stock:{row + 1}", **OFFCUT))
    axes.text(
        -0.012 * longest,
        row + 0.5,
        f"{row + 1}.  {format_length(timber.stock.length, unit)}",
        fontsize=7,
        ha="right",
        va="center",
        clip_on=False,
    )
    at = cutting.trim
    for mark, length in zip(timber.marks, timber.lengths, strict=True):
        axes.add_patch(Rectangle((at, row + 0.15), length, 0.7, gid=f"piece:{mark}", **PIECE))
        words = f"{mark}\n{format_length(length, unit, step=16 if unit is LengthUnit.FOOT_INCH else None)}"
        axes.text(at + length / 2, row + 0.5, words, fontsize=5.8, ha="center", va="center", linespacing=1.05)
        at += length + cutting.kerf


def _words(cutting: CuttingList, unit: LengthUnit) -> list[str]:
    """Return what the drawing says of itself."""
    counts = ", ".join(f"{count} of {format_length(length, unit)}" for length, count in cutting.counts.items())
    kept = 1 - cutting.waste / cutting.bought
    proof = "no list of these pieces is better" if cutting.proved else "a better list may exist"
    goal = "least cost" if cutting.priced else "least length bought"
    buy = f"Cutting list for {cutting.section}: buy {counts}. {format_length(cutting.bought, unit)} in all"
    return [
        f"{buy}, {kept:.0%} of it ends up in the frame.",
        f"Made for {goal}; {proof}. Hatched: left over. Saw cuts of {small(cutting.kerf, unit)} are allowed for.",
    ]
