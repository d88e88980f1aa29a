"""Draws the timber edge, side by side as seen from outside: courses, joints, bars and screws, with their measures."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from spadework.build.corners import inside_corner, is_square, saw_angle
from spadework.build.courses import Side
from spadework.build.edge import EdgePlan
from spadework.build.words import small
from spadework.units import LengthUnit, format_length
from spadework.write.canvas import drawing_settings, empty_figure
from spadework.write.foot import write_foot

__all__ = ["edge_page"]

PAGE = (11.69, 8.27)  # A4 on its side [in]
ACROSS = 7.6  # width of the longest side on the page [in]
LEFT = 1.6
GAP = 0.55  # between sides [in]
SIZE = 6.5
TIMBER: dict[str, Any] = {"facecolor": "#e8d3b0", "edgecolor": "black", "linewidth": 0.7, "clip_on": False}
LAP: dict[str, Any] = {"facecolor": "none", "edgecolor": "#5a3d17", "linewidth": 0.7, "hatch": "xxxx", "zorder": 3}
BAR: dict[str, Any] = {"color": "#1f4e9c", "linewidth": 1.5, "solid_capstyle": "butt"}
SCREW: dict[str, Any] = {"color": "#b03030", "linewidth": 0.8}
LAG: dict[str, Any] = {"color": "#b03030", "marker": "o", "markersize": 2.2, "linestyle": "none"}
GROUND: dict[str, Any] = {"color": "#4d7a2a", "linewidth": 1.4}
BASE: dict[str, Any] = {"color": "0.45", "linewidth": 0.8, "linestyle": (0, (5, 3))}


def edge_page(
    edge: EdgePlan, *, formation: float, title: str, unit: LengthUnit, foot: Sequence[tuple[str, bool]] = ()
) -> Figure:
    """Return the page: each side from outside, its first corner at the left.

    Every timber, lap, bar, screw and lag screw is one artist whose ``gid`` starts with ``piece:``, ``lap:``, ``bar:``,
    ``screw:`` or ``lag:``: what is counted off the drawing is what the tables count.

    Parameters
    ----------
    edge : EdgePlan
        The frame.
    formation : float
        Level dug or filled to. [m]
    title : str
        Name and date.
    unit : LengthUnit
        Unit of the measures.
    foot : sequence of (str, bool)
        What stands at the foot of the page, and whether it is bold.
    """
    with drawing_settings():
        figure = empty_figure(*PAGE)
        footing = write_foot(figure, foot)
        reaches = [_reach(edge, side) for side in edge.sides]
        room = PAGE[1] - 0.95 - max(footing, 0.2) - GAP * len(edge.sides)
        total = sum(above + below for above, below in reaches)
        scale = min(ACROSS / max(side.length for side in edge.sides), room / total)
        stretch = max(1, min(6, math.floor(room / (total * scale) + 1e-9)))
        bottom = PAGE[1] - 0.5
        for side, (above, below) in zip(edge.sides, reaches, strict=True):
            high = (above + below) * scale * stretch
            bottom -= high + GAP
            axes = figure.add_axes((LEFT / PAGE[0], bottom / PAGE[1], side.length * scale / PAGE[0], high / PAGE[1]))
            axes.set_xlim(0, side.length)
            axes.set_ylim(-below, above)
            axes.axis("off")
            panel = _Panel(axes, edge, side, unit, 1 / (scale * stretch), 1 / scale)
            _draw_side(panel, formation)
            _measure(panel)
        _words(figure, edge, title, unit, stretch=stretch, bottom=max(footing, 0.2))
    return figure


@dataclass(frozen=True)
class _Panel:
    """Where one side is drawn; ``up`` and ``across`` are the metres of an inch on the page."""

    axes: Axes
    edge: EdgePlan
    side: Side
    unit: LengthUnit
    up: float
    across: float

    def text(self, at: float, level: float, words: str, **looks: Any) -> None:
        """Write words, wherever they fall."""
        self.axes.text(at, level, words, **{"fontsize": SIZE, "clip_on": False, **looks})

    def length(self, metres: float, *, with_unit: bool = True) -> str:
        """Return a length as it is cut: to the sixteenth of an inch, or the millimetre."""
        step = 16 if self.unit is LengthUnit.FOOT_INCH else None
        return format_length(metres, self.unit, step=step, with_unit=with_unit)


def _reach(edge: EdgePlan, side: Side) -> tuple[float, float]:
    """Return how far the ground stands above the top, and how far down the bars reach, with a little room. [m]"""
    below = max(bar.length for bar in edge.bars if bar.side == side.name)
    return max(0.0, side.profile.highest - edge.top) + 0.02, max(below, edge.top - side.profile.lowest) + 0.02


def _draw_side(panel: _Panel, formation: float) -> None:
    """Draw what one side is made of."""
    axes, edge, side = panel.axes, panel.edge, panel.side
    height, lap, breadth = edge.section.height, edge.options.lap, edge.section.breadth
    axes.add_line(Line2D((0, side.length), (formation - edge.top,) * 2, **BASE))
    for piece in (piece for piece in edge.pieces if piece.side == side.name):
        foot = -piece.course * height
        axes.add_patch(Rectangle((piece.start, foot), piece.length, height, gid=f"piece:{piece.mark}", **TIMBER))
        if piece.joint_end:
            axes.add_patch(Rectangle((piece.end - lap, foot), lap, height, gid=f"lap:{piece.mark}", **LAP))
        panel.text(
            (piece.start + piece.end) / 2,
            foot + height / 2,
            f"{piece.mark}: {panel.length(piece.length)}",
            fontsize=SIZE - 0.5,
            ha="center",
            va="center",
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 0.6},
            zorder=6,
        )
    for start, course in _end_grain(edge, side):
        axes.add_patch(Rectangle((start, -course * height), breadth, height, **TIMBER))
        for way in ((0, height), (height, 0)):
            axes.add_line(Line2D((start, start + breadth), [-course * height + up for up in way], color="0.4", lw=0.5))
    for number, bar in enumerate((bar for bar in edge.bars if bar.side == side.name), 1):
        axes.add_line(Line2D((bar.distance,) * 2, (0.0, -bar.length), gid=f"bar:{side.name}{number}", **BAR))
    for number, screw in enumerate((screw for screw in edge.screws if screw.side == side.name), 1):
        ends = [-screw.course * height + way * height / 4 for way in (1, -1)]
        axes.add_line(Line2D((screw.distance,) * 2, ends, gid=f"screw:{side.name}{number}", **SCREW))
    for number, lag in enumerate((lag for lag in edge.lags if lag.side == side.name), 1):
        level = -(lag.course - 1 + (0.3 if lag.number == 1 else 0.7)) * height
        inside = min(max(lag.distance, breadth / 2), side.length - breadth / 2)
        axes.add_line(Line2D((inside,), (level,), gid=f"lag:{side.name}{number}", **LAG))
    axes.add_line(Line2D(side.profile.distance, side.profile.level - edge.top, gid=f"ground:{side.name}", **GROUND))


def _end_grain(edge: EdgePlan, side: Side) -> Iterator[tuple[float, int]]:
    """Yield where the neighbours' timbers show their ends: place and course."""
    breadth = edge.section.breadth
    mine = [piece for piece in edge.pieces if piece.side == side.name]
    for course in range(1, side.courses + 1):
        starts = [piece.start for piece in mine if piece.course == course]
        ends = [piece.end for piece in mine if piece.course == course]
        if any(abs(start - breadth) < 1e-9 for start in starts):
            yield 0.0, course
        if any(abs(end - (side.length - breadth)) < 1e-9 for end in ends):
            yield side.length - breadth, course


def _measure(panel: _Panel) -> None:
    """Write the measures of one side."""
    edge, side, up, across = panel.edge, panel.side, panel.up, panel.across
    middle = len(side.name) // 2
    above = max(0.0, side.profile.highest - edge.top) + 0.1 * up
    _span(panel, above)
    corner: dict[str, Any] = {"fontsize": 10, "fontweight": "bold", "va": "center"}
    panel.text(-0.62 * across, 0.0, side.name[:middle], ha="right", **corner)
    panel.text(side.length + 0.12 * across, 0.0, side.name[middle:], ha="left", **corner)
    for bar in (bar for bar in edge.bars if bar.side == side.name):
        words = format_length(bar.distance, panel.unit, with_unit=False)
        looks: dict[str, Any] = {"color": BAR["color"], "rotation": 90, "fontsize": SIZE - 1.3, "va": "bottom"}
        looks |= {"bbox": {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 0.2}, "zorder": 5}
        panel.text(bar.distance + 0.03 * across, 0.02 * up - bar.length, words, ha="left", **looks)
    height = edge.section.height
    for course in range(1, side.courses + 1):
        looks = {"fontsize": SIZE - 1, "ha": "right", "va": "center"}
        panel.text(-0.1 * across, -(course - 0.5) * height, small(height, panel.unit), **looks)
    for run in side.runs:
        for step, way in ((run.start, -1), (run.end, 1)):
            if 0.0 < step < side.length:
                looks = {"fontsize": SIZE - 1, "ha": "right" if way < 0 else "left", "va": "center", "zorder": 7}
                words = f"step at {panel.length(step, with_unit=False)}"
                panel.text(step + way * 0.04 * across, -(run.course - 0.5) * height, words, **looks)
    panel.text(side.length + 0.38 * across, 0.05 * up, "\n".join(_facts(panel)), ha="left", va="top")


def _facts(panel: _Panel) -> Iterator[str]:
    """Yield what is to be known of a side."""
    edge, side, unit = panel.edge, panel.side, panel.unit
    low = float(side.profile.distance[np.argmin(side.profile.level)])
    if side.exposed > 0:
        yield f"shows {small(side.exposed, unit)} at most, at {panel.length(low)}"
    if side.profile.highest > edge.top + 0.002:
        yield f"ground up to {small(side.profile.highest - edge.top, unit)} above it"
    yield f"in the ground {small(side.least_embedment(), unit)} at least"
    middle = len(side.name) // 2
    for letter, angle in zip((side.name[:middle], side.name[middle:]), side.angles, strict=True):
        if not is_square(angle):
            yield f"corner {letter} {angle:.1f}°: sawn {saw_angle(angle):.1f}° off square"
        elif inside_corner(angle):
            yield f"turns inward at {letter}"
    trench = next(trench for trench in edge.trenches if trench.side == side.name)
    shallow, deep = small(trench.shallowest, unit), small(trench.deepest, unit)
    yield f"trench {deep} deep" if shallow == deep else f"trench {shallow} to {deep} deep"


def _span(panel: _Panel, level: float) -> None:
    """Draw the dimension line of the whole side."""
    arrow = {"arrowstyle": "<|-|>", "color": "black", "linewidth": 0.6, "mutation_scale": 6, "shrinkA": 0, "shrinkB": 0}
    panel.axes.annotate("", xy=(panel.side.length, level), xytext=(0.0, level), arrowprops=arrow, annotation_clip=False)
    words = f"{panel.side.name}  {format_length(panel.side.length, panel.unit)}"
    panel.text(panel.side.length / 2, level + 0.02 * panel.up, words, fontsize=SIZE + 1, ha="center", va="bottom")


def _words(figure: Figure, edge: EdgePlan, title: str, unit: LengthUnit, *, stretch: int, bottom: float) -> None:
    """Write title and legend, the legend from a height up. [in]"""
    wide, high = PAGE
    figure.text(0.35 / wide, (high - 0.3) / high, title, fontsize=11, fontweight="bold", va="top", parse_math=False)
    section = edge.section
    bars = ", ".join(f"{count} of {small(length, unit)}" for length, count in edge.bar_counts.items())
    drawn = f" Heights are drawn {stretch} times." if stretch > 1 else ""
    first = (
        f"Timber edge, each side from outside. Section {section.name}, laid {small(section.breadth, unit)} thick and "
        f"{small(section.height, unit)} high. Top level all round at {format_length(edge.top, unit)}.{drawn}"
    )
    second = (
        f"{len(edge.pieces)} timbers, {edge.joints} lap joints of {small(edge.options.lap, unit)} (hatched); bars "
        f"(blue, measured from the left corner): {bars}; {len(edge.screws)} screws between courses (red strokes), "
        f"{len(edge.lags)} lag screws (red dots). Green: ground outside. Dashed: formation inside."
    )
    for row, text in enumerate((first, second)):
        place = (bottom + 0.2 - row * 0.14) / high
        figure.text(0.35 / wide, place, text, fontsize=SIZE, va="bottom", parse_math=False)
