"""The trade-off front of two goals as a picture: proved points filled, searched ones open, steps between them."""

from __future__ import annotations

from matplotlib.ticker import MaxNLocator

from spadework.placement import Goal
from spadework.placement.front import FrontPoint
from spadework.placement.goal_words import value_label, value_scale
from spadework.plan import PlanInputs
from spadework.write.canvas import drawing_settings, empty_figure, png_bytes, svg_bytes

__all__ = ["front_bytes"]

PAGE = (7.0, 5.0)
"""Inches."""


def front_bytes(inputs: PlanInputs, one: Goal, other: Goal, front: tuple[FrontPoint, ...], kind: str) -> bytes:
    """Return the picture as a file.

    Parameters
    ----------
    inputs : PlanInputs
        The site.
    one, other : Goal
        The goals, upwards and to the right.
    front : tuple of FrontPoint
        By rising value of the second.
    kind : str
        ``".svg"`` or ``".png"``.
    """
    with drawing_settings():
        figure = empty_figure(*PAGE)
        axes = figure.add_axes((0.12, 0.12, 0.84, 0.76))
        first, second = value_scale(one, inputs.units), value_scale(other, inputs.units)
        across, up = [p.second * second for p in front], [p.first * first for p in front]
        # What is not on the steps is worse in both than one of the points.
        axes.step(across, up, where="post", color="0.6", linewidth=0.8, zorder=1)
        for proved, face, label in ((True, "black", "proved, as a weighted sum"), (False, "white", "searched")):
            rows = [row for row, point in enumerate(front) if (point.proof is not None) == proved]
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
        axes.legend(fontsize=7, frameon=False)
        axes.set_title(f"{inputs.name}: what less {other.name} costs in {one.name}", fontsize=9)
    return svg_bytes(figure, "front") if kind == ".svg" else png_bytes(figure)
