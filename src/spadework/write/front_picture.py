"""The trade-off front of two goals as a picture: proved points filled, searched ones open, steps between them."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from spadework.placement import Goal
from spadework.placement.front import Front
from spadework.placement.goal_words import value_label, value_scale
from spadework.plan import PlanInputs
from spadework.write.canvas import drawing_settings, empty_figure, png_bytes, svg_bytes
from spadework.write.wrapping import wrapped

__all__ = ["front_bytes"]

PAGE = (7.0, 5.4)
"""Inches."""
ACROSS = 400
NOTE = (
    "Filled points are the best of a weighted sum of the two goals, proved. Open ones were searched, without a proof. "
    "Hatched: no spot allowed here lies there, which the proved sums say. Between steps and hatching better spots are "
    "not ruled out."
)


def front_bytes(inputs: PlanInputs, one: Goal, other: Goal, front: Front, kind: str) -> bytes:
    """Return the picture as a file.

    Parameters
    ----------
    inputs : PlanInputs
        The site.
    one, other : Goal
        The goals, upwards and to the right.
    front : Front
        Its points, and what is proved.
    kind : str
        ``".svg"`` or ``".png"``.
    """
    with drawing_settings():
        figure = empty_figure(*PAGE)
        axes = figure.add_axes((0.12, 0.2, 0.84, 0.7))
        points = front.points
        first, second = value_scale(one, inputs.units), value_scale(other, inputs.units)
        across, up = [p.second * second for p in points], [p.first * first for p in points]
        # What is not on the steps is worse in both than one of the points.
        axes.step(across, up, where="post", color="0.6", linewidth=0.8, zorder=1)
        for proved, face, label in ((True, "black", "proved, as a weighted sum"), (False, "white", "searched")):
            rows = [row for row, point in enumerate(points) if (point.proof is not None) == proved]
            axes.scatter(
                [across[row] for row in rows],
                [up[row] for row in rows],
                s=34,
                marker="o" if proved else "s",
                facecolor=face,
                edgecolor="black",
                linewidth=0.9,
                label=label,
                zorder=2,
            )
        axes.set_xlabel(value_label(other, inputs.units), fontsize=8)
        axes.set_ylabel(value_label(one, inputs.units), fontsize=8)
        axes.xaxis.set_major_locator(MaxNLocator(7))
        axes.tick_params(labelsize=7)
        axes.margins(0.08)
        _shade(axes, front, first, second)
        axes.legend(fontsize=7, frameon=False, loc="upper right")
        title = f"{inputs.name}: what less {other.name} costs in {one.name}"
        figure.text(0.12, 0.955, title, fontsize=10, weight="bold", va="top", parse_math=False)
        for row, line in enumerate(wrapped(figure, NOTE, 0.84 * PAGE[0] * 72, 6.5)):
            figure.text(0.12, 0.095 - 0.024 * row, line, fontsize=6.5, va="top", parse_math=False)
    return svg_bytes(figure, "front") if kind == ".svg" else png_bytes(figure)


def _shade(axes: Axes, front: Front, first: float, second: float) -> None:
    """Hatch what is proved to hold no spot, out to the edges of the chart."""
    (west, east), (south, north) = axes.get_xlim(), axes.get_ylim()
    across = np.linspace(west, east, ACROSS)
    least = np.array([front.least_first(value / second) for value in across.tolist()]) * first
    axes.fill_between(
        across,
        south,
        np.clip(least, south, north),
        facecolor="none",
        edgecolor="0.55",
        hatch="////",
        linewidth=0.0,
        zorder=0,
        label="no spot: proved",
    )
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)
