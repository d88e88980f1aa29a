"""Draws the sections: along and across the middle of the pad and along its edges, with ground, formation and finish.

All are to one scale; heights are stretched, and by how much is written on the page.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from spadework.plan import Plan
from spadework.stakeout import depth_mark
from spadework.units import format_length
from spadework.write.canvas import drawing_settings, empty_figure
from spadework.write.foot import foot_parts, write_foot
from spadework.write.labels import Labels
from spadework.write.map_pad import PAD_LOOKS
from spadework.write.section_lines import Section, section_lines

__all__ = ["section_figure", "sections_page"]

PAGE = (11.69, 8.27)  # A4 on its side [in]
COLUMNS = 2
STRETCHES = (1, 2, 3, 4, 5, 8, 10, 15, 20, 30, 50)
LINES: dict[str, dict[str, Any]] = {
    "ground": {"color": "#5c3d1e", "linewidth": 1.4},
    "stripped ground": {"color": "#5c3d1e", "linewidth": 0.8, "linestyle": (0, (3, 2))},
    "formation": {"color": "black", "linewidth": 1.1, "linestyle": (0, (7, 2))},
    "finish": {"color": "black", "linewidth": 1.8},
    "bank": {"color": "black", "linewidth": 0.9},
}


def sections_page(plan: Plan) -> Figure:
    """Return the page of all sections, with title, legend and foot.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    with drawing_settings():
        figure = empty_figure(*PAGE)
        foot = write_foot(figure, foot_parts(plan))
        wide, high = PAGE
        title = f"{plan.name or 'Plan'}, {plan.date}: sections"
        figure.text(0.35 / wide, (high - 0.3) / high, title, fontsize=12, fontweight="bold", va="top", parse_math=False)
        _draw(figure, plan, (0.35, foot + 0.15, wide - 0.7, high - foot - 0.75), 6.5)
    return figure


def section_figure(plan: Plan, wide: float, high: float) -> Figure:
    """Return the sections alone, for a page that has its own title. [in]"""
    with drawing_settings():
        figure = empty_figure(wide, high)
        _draw(figure, plan, (0.0, 0.0, wide, high), 6.5)
    return figure


def _draw(figure: Figure, plan: Plan, box: tuple[float, float, float, float], size: float) -> None:
    """Draw all sections into a box ``left, bottom, width, height`` of the page. [in]"""
    sections = section_lines(plan)
    left, bottom, across, up = box
    rows = math.ceil(len(sections) / COLUMNS)
    cell_wide, cell_high = across / COLUMNS, (up - 0.35) / rows
    room = (cell_wide - 0.3, cell_high - 0.45)
    longest = max(float(np.ptp(section.distance)) for section in sections)
    low, high = _heights(plan, sections)
    scale = room[0] / longest  # inches to the metre
    stretch = max((s for s in STRETCHES if s * scale * (high - low) <= room[1]), default=1)
    span = room[1] / (scale * stretch)
    for number, section in enumerate(sections):
        row, column = divmod(number, COLUMNS)
        corner = (left + column * cell_wide + 0.15, bottom + up - (row + 1) * cell_high + 0.05)
        wide, tall = figure.get_size_inches()
        axes = figure.add_axes((corner[0] / wide, corner[1] / tall, room[0] / wide, room[1] / tall))
        middle = section.length / 2
        axes.set_xlim(middle - longest / 2, middle + longest / 2)
        axes.set_ylim((low + high - span) / 2, (low + high + span) / 2)
        axes.set_xticks([])
        axes.set_yticks([])
        words = f"{section.title}, {format_length(section.length, plan.units)}; heights {stretch} times"
        axes.set_title(words, fontsize=size + 1, loc="left", pad=3)
        _section(axes, plan, section, size)
    _legend(figure, (left, bottom), size, banks=plan.banks is not None)


def _heights(plan: Plan, sections: Sequence[Section]) -> tuple[float, float]:
    """Return the lowest and the highest level that is drawn, with some room. [m]"""
    place = plan.search.best.placement
    levels = np.concatenate([section.ground for section in sections])
    levels = np.append(levels[np.isfinite(levels)], [place.finish, place.formation(plan.pad)])
    low, high = float(levels.min()) - plan.pad.strip, float(levels.max())
    room = max(0.3 * (high - low), 0.05)
    return low - room, high + room


def _section(axes: Axes, plan: Plan, section: Section, size: float) -> None:
    """Draw one section and label it."""
    place = plan.search.best.placement
    formation, finish = place.formation(plan.pad), place.finish
    stripped = section.ground - plan.pad.strip
    at, on, base = section.distance, section.on_pad, section.base
    worked = np.isfinite(base)
    axes.fill_between(at, base, stripped, where=worked & (stripped > base), interpolate=True, **_area("cut"))
    axes.fill_between(at, stripped, base, where=worked & (stripped < base), interpolate=True, **_area("fill"))
    axes.plot(at, section.ground, **LINES["ground"], zorder=4)
    axes.plot(at, np.where(worked, stripped, np.nan), **LINES["stripped ground"], zorder=4)
    axes.plot(at, np.where(on, formation, np.nan), **LINES["formation"], zorder=5)
    if plan.banks is not None:
        axes.plot(at, np.where(on, np.nan, base), **LINES["bank"], zorder=5)
    if finish > formation:
        axes.plot(at, np.where(on, finish, np.nan), **LINES["finish"], zorder=5)
    labels = Labels(axes)
    for name, where, turn in ((section.start, 0.0, 225), (section.end, section.length, 315)):
        axes.plot([where, where], [formation, finish], color="black", linewidth=1.1, zorder=5)
        labels.keep_clear(where, finish, 3.0)
        labels.beside(name, where, min(formation, finish), must=True, first=turn, fontsize=size, fontweight="bold")
    label: dict[str, Any] = {"fontsize": size, "away": 4.0}
    labels.beside(format_length(finish, plan.units), section.length * 0.5, finish, first=90, must=True, **label)
    if finish > formation:
        labels.beside(
            format_length(formation, plan.units), section.length * 0.5, formation, first=270, must=True, **label
        )
    for share in (0.0, 0.5, 1.0):
        row = int(np.argmin(np.abs(at - share * section.length)))
        if np.isfinite(section.ground[row]) and on[row]:
            level = float(section.ground[row])
            words = f"{format_length(level, plan.units)}  {depth_mark(float(stripped[row] - formation), plan.units)}"
            labels.beside(
                words, float(at[row]), float(section.ground[row]), first=90, must=True, color="#5c3d1e", **label
            )


def _area(name: str) -> dict[str, Any]:
    """Return the look of cut or fill."""
    return {**PAD_LOOKS[name], "zorder": 2}


def _legend(figure: Figure, corner: tuple[float, float], size: float, *, banks: bool) -> None:
    """Explain lines and hatches along the foot of the sections."""
    wide, high = figure.get_size_inches()
    entries = [(name, Line2D([], [], **look)) for name, look in LINES.items() if banks or name != "bank"]
    handles = [handle for _, handle in entries] + [Patch(**PAD_LOOKS["cut"]), Patch(**PAD_LOOKS["fill"])]
    names = [name for name, _ in entries] + ["cut (C): dig", "fill (F): make up"]
    figure.legend(
        handles,
        names,
        loc="lower left",
        bbox_to_anchor=(corner[0] / wide, corner[1] / high),
        ncols=6 + banks,
        fontsize=size,
        frameon=False,
        borderaxespad=0.0,
        handlelength=3.0,
    )
