"""``what-if.svg``, ``what-if.png``: how far each number that was assumed swings the value, the strongest on top."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from spadework.placement.goal_words import value_label, value_scale, value_words
from spadework.placement.what_if import Effect, Ending
from spadework.placement.what_if_words import HOW, changes, number_words, what_if_sentences
from spadework.plan import Plan
from spadework.units import LengthUnit
from spadework.write.canvas import drawing_settings, empty_figure, png_bytes, svg_bytes
from spadework.write.foot import MARGIN, foot_parts, write_foot
from spadework.write.wrapping import wrapped

__all__ = ["what_if_files", "what_if_page"]

WIDE, ROW = 9.0, 0.5
HEAD, AXIS = 1.05, 0.5
"""Inches: the page, a row of the chart, the room above it, and that for its axis."""
SAID, LINE = 7.0, 0.135
LEFT, RIGHT = 2.15, 0.35
THICK = 0.52
ROOM = 0.3
"""Room for words beyond the longest bar on either side, as a share of all bars."""
LOW: dict[str, Any] = {"facecolor": "white", "edgecolor": "black", "hatch": "////", "linewidth": 0.8}
HIGH: dict[str, Any] = {"facecolor": "0.35", "edgecolor": "black", "linewidth": 0.8}
MARK: dict[str, Any] = {"markerfacecolor": "white", "markeredgecolor": "black", "linestyle": ""}
FLIP, OTHER = {"marker": "D", "markersize": 6.5, **MARK}, {"marker": "o", "markersize": 5.5, **MARK}


def what_if_files(plan: Plan) -> dict[str, bytes]:
    """Return the picture in both kinds, by file name; none where the goal rests on no number that has a range.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    if not plan.what_if:
        return {}
    page = what_if_page(plan)
    return {"what-if.svg": svg_bytes(page, "what-if"), "what-if.png": png_bytes(page)}


def what_if_page(plan: Plan) -> Figure:
    """Return the page: a bar for each number, from the value as assumed to those at the ends of its range.

    Parameters
    ----------
    plan : Plan
        The plan, with one effect or more.
    """
    effects, chosen, goal, unit = plan.what_if or (), plan.search.best, plan.goal, plan.units
    chart = _Chart(chosen.value, value_scale(goal, unit), unit)
    said = " ".join((*what_if_sentences(effects, chosen, goal, unit), HOW))
    with drawing_settings():
        foot = foot_parts(plan)
        below = write_foot(empty_figure(WIDE, 1.0), foot)
        lines = wrapped(empty_figure(WIDE, 1.0), said, (WIDE - 2 * MARGIN) * 72, SAID)
        under = below + 0.12 + LINE * len(lines)
        high = HEAD + ROW * len(effects) + AXIS + under
        figure = empty_figure(WIDE, high)
        write_foot(figure, foot)
        _write(figure, 0.3, f"{plan.name or 'Plan'}, {plan.date}: what if a number is another?", 11, weight="bold")
        now = value_words(goal, chosen.value, unit)
        words = f"One at a time, the others as assumed. The line is what the chosen spot has now: {now}."
        _write(figure, 0.58, words, 7.5)
        _legend(figure, high, effects)
        for row, line in enumerate(lines):
            _write(figure, high - under + LINE * row, line, SAID)
        box = (LEFT / WIDE, (under + AXIS) / high, 1 - (LEFT + RIGHT) / WIDE, ROW * len(effects) / high)
        axes = figure.add_axes(box)
        axes.set_ylim(len(effects) - 0.5, -0.5)
        axes.set_xlim(*chart.limits(effects))
        axes.set_yticks([])
        for row, effect in enumerate(effects):
            chart.draw(axes, row, effect)
        axes.axvline(chart.base, color="black", linewidth=1.2, zorder=3)
        axes.tick_params(labelsize=7)
        axes.set_xlabel(f"{value_label(goal, unit)} at the chosen spot", fontsize=7.5, parse_math=False)
        for side in ("left", "right", "top"):
            axes.spines[side].set_visible(False)
    return figure


def _write(figure: Figure, down: float, words: str, size: float, **style: Any) -> None:
    """Write a line so far below the top of the page. [in]"""
    high = figure.get_size_inches()[1]
    figure.text(MARGIN / WIDE, 1 - down / high, words, fontsize=size, va="top", parse_math=False, **style)


@dataclass(frozen=True)
class _Chart:
    """The value as assumed, and what turns values into the user's unit."""

    value: float
    scale: float
    unit: LengthUnit

    @property
    def base(self) -> float:
        return self.value * self.scale

    def limits(self, effects: Sequence[Effect]) -> tuple[float, float]:
        """Return how far the axis reaches: all values, and room for the words beside the bars."""
        ends = [end for effect in effects for end in (effect.low, effect.high, *effect.flips)]
        values = [self.base, *(v * self.scale for end in ends for v in _shown(end) if math.isfinite(v))]
        least, most = min(values), max(values)
        room = ROOM * max(most - least, 0.02 * abs(self.base), 1e-3)
        return least - room, most + room

    def draw(self, axes: Axes, row: int, effect: Effect) -> None:
        """Draw the bars, marks and words of one number."""
        one = effect.assumption
        assumed = f"{number_words(one, one.likely, self.unit)} assumed"
        for words, down, size, shade in ((one.name, -0.13, 7.5, "black"), (assumed, 0.2, 6.5, "0.35")):
            axes.text(-0.015, row + down, words, fontsize=size, color=shade, transform=axes.get_yaxis_transform(),
                      ha="right", va="center", parse_math=False)  # fmt: skip
        if not changes(effect, self.value):
            low, high = (number_words(one, number, self.unit) for number in (one.low, one.high))
            self._words(axes, f"no change from {low} to {high}", (self.base, row), (6, 0), color="0.35")
            return
        # Where both ends lie on one side, each has half of the row.
        sides = [math.copysign(1.0, end.kept - self.value) for end in (effect.low, effect.high)]
        halved = sides[0] == sides[1]
        for end, side, style, shift in zip((effect.low, effect.high), sides, (LOW, HIGH), (-0.25, 0.25), strict=True):
            middle = row + (THICK * shift if halved else 0.0)
            self._bar(axes, middle, THICK / (2 if halved else 1), end, side, style)
            self._label(axes, middle, end, side, number_words(one, end.number, self.unit))
        for flip in effect.flips:
            if math.isfinite(flip.kept):
                axes.plot([flip.kept * self.scale], [row], zorder=5, **FLIP)
                words, above = f"flips at {number_words(one, flip.number, self.unit)}", row - THICK / 2
                white = {"facecolor": "white", "edgecolor": "none", "pad": 0.6}
                self._words(axes, words, (flip.kept * self.scale, above), (0, 5), ha="center", bbox=white)

    def _bar(  # noqa: PLR0917 -- where it is, and how it looks
        self, axes: Axes, middle: float, thick: float, end: Ending, side: float, style: dict[str, Any]
    ) -> None:
        """Draw a bar to one end, and where another spot is better then, that spot's value."""
        low, high = axes.get_xlim()
        tip = end.kept * self.scale if math.isfinite(end.kept) else (high if side > 0 else low)
        axes.barh(middle, tip - self.base, thick, left=self.base, zorder=2, **style)
        if end.moves:
            axes.plot([end.best.value * self.scale], [middle], zorder=6, **OTHER)

    def _label(self, axes: Axes, middle: float, end: Ending, side: float, words: str) -> None:
        """Write the number and the change beyond the end of the bar; inside, where the bar runs off: not allowed."""
        allowed = math.isfinite(end.kept)
        if allowed and self.value > 0:
            words += f" ({100 * (end.kept / self.value - 1):+.0f} %)".replace("-", "\u2212")
        tip = end.kept * self.scale if allowed else axes.get_xlim()[1]
        outward = side if allowed else -1.0
        self._words(
            axes,
            words if allowed else f"{words}: not allowed",
            (tip, middle),
            ((4 if abs(tip - self.base) > 0.02 * np.ptp(axes.get_xlim()) else 9) * outward, 0),
            ha="left" if outward > 0 else "right",
            bbox=None if allowed else {"facecolor": "white", "edgecolor": "none", "pad": 1.0},
        )

    @staticmethod
    def _words(axes: Axes, words: str, place: tuple[float, float], shift: tuple[float, float], **style: Any) -> None:
        style = {"fontsize": 6.5, "va": "center", "zorder": 7, "parse_math": False, **style}
        axes.annotate(words, place, shift, textcoords="offset points", **style)


def _shown(end: Ending) -> tuple[float, ...]:
    return (end.kept, end.best.value) if end.moves else (end.kept,)


def _legend(figure: Figure, high: float, effects: Sequence[Effect]) -> None:
    """Explain the bars, and the marks that there are."""
    handles: list[Patch | Line2D] = [Patch(label="the low number", **LOW), Patch(label="the high number", **HIGH)]
    if any(effect.flips for effect in effects):
        handles.append(Line2D([], [], label="flips: beyond it another spot is better", **FLIP))
    if any(end.moves for effect in effects for end in (effect.low, effect.high)):
        handles.append(Line2D([], [], label="that other spot", **OTHER))
    figure.legend(
        handles=handles,
        loc="upper left",
        bbox_to_anchor=((MARGIN - 0.03) / WIDE, 1 - 0.76 / high),
        ncols=len(handles),
        fontsize=7,
        frameon=False,
        borderpad=0.0,
        columnspacing=1.6,
    )
