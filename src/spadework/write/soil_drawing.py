"""Draws which soil goes where: the pad with cut and fill, an arrow for each move with its loads, and the heaps."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, PathPatch

from spadework.haul import Haul, Move
from spadework.plan import Plan
from spadework.units import LengthUnit, format_volume, to_length_unit
from spadework.write.canvas import drawing_settings, empty_figure, map_axes
from spadework.write.foot import foot_parts, write_foot
from spadework.write.labels import Labels
from spadework.write.map_frame import Extent
from spadework.write.map_land import patch_of
from spadework.write.map_pad import PAD_LOOKS, RING
from spadework.write.pad_areas import pad_areas

__all__ = ["load_words", "move_rows", "soil_page"]

PAGE = (8.27, 8.9)  # [in]
ARROW: dict[str, Any] = {
    "arrowstyle": "-|>,head_length=0.5,head_width=0.25",
    "color": "black",
    "shrinkA": 2,
    "shrinkB": 2,
}
SMALLEST = 0.5
"""A move of less than half a load gets no arrow. [loads]"""


def soil_page(plan: Plan) -> Figure:
    """Return the page: arrows from where soil is dug to where it goes, numbered as in the list below.

    Parameters
    ----------
    plan : Plan
        A plan with its haul.
    """
    haul = plan.haul
    if haul is None:
        raise ValueError("the plan has no haul")
    with drawing_settings():
        figure = empty_figure(*PAGE)
        foot = max(write_foot(figure, foot_parts(plan)), 0.15)
        rows = _list_words(plan, haul)
        listed = foot + 0.15 + 0.135 * len(rows)
        axes = map_axes(figure, (0.35, listed + 0.15, PAGE[0] - 0.7, PAGE[1] - listed - 0.75), _extent(plan, haul))
        _draw(axes, plan, haul)
        wide, high = PAGE
        title = f"{plan.name}, {plan.date}: which soil goes where"
        figure.text(0.35 / wide, 1 - 0.2 / high, title, fontsize=11, fontweight="bold", va="top", parse_math=False)
        for row, words in enumerate(rows):
            place = (listed - 0.135 * (row + 1) + 0.05) / high
            figure.text(0.35 / wide, place, words, fontsize=7, va="bottom", parse_math=False)
    return figure


def load_words(loads: float) -> str:
    """Return loads in words: whole ones, rounded; a part of one is said to be that."""
    if loads < SMALLEST:
        return "part of a load"
    whole = max(round(loads), 1)
    return f"{whole} load" if whole == 1 else f"{whole} loads"


def move_rows(plan: Plan, moves: Sequence[Move]) -> list[tuple[str, str, str, str, str]]:
    """Return a row for each move: from, to, loads, way and loose volume.

    Parameters
    ----------
    plan : Plan
        For its unit.
    moves : sequence of Move
        What is moved.
    """
    return [
        (
            move.start,
            move.end,
            load_words(move.loads),
            "on the spot" if move.start == move.end else _about(move.distance, plan.units),
            format_volume(move.loose, plan.units),
        )
        for move in moves
    ]


def _list_words(plan: Plan, haul: Haul) -> list[str]:
    """Return the list below the map; what is less than half a load is gathered in one line."""
    lines = [
        f"{number}. From {start} to {end}: {loads}, {way}; {loose} loose."
        for number, (start, end, loads, way, loose) in enumerate(move_rows(plan, _shown(haul)), 1)
    ]
    rest = sum(move.loose for move in haul.moves) - sum(move.loose for move in _shown(haul))
    if not haul.moves:
        lines.append("No soil is moved within the pad.")
    elif rest > 0:
        lines.append(f"What else is uneven, {format_volume(rest, plan.units)} loose, is levelled with the shovel.")
    lines += [
        f"Heap of {heap.name}: {format_volume(heap.volume, plan.units)} loose, about "
        f"{_about(2 * heap.radius, plan.units)} across and {_about(heap.height, plan.units)} high."
        for heap in haul.heaps
    ]
    lines += [f"No room was found in the yard for a heap of {name}: cart it away." for name in haul.without_room]
    lines.append(
        f"A load is {format_volume(haul.barrow, plan.units)}. Work in this order: the farthest fill first, so that no "
        "barrow runs over what is rammed. North is up."
    )
    return lines


def _shown(haul: Haul) -> tuple[Move, ...]:
    """Return the moves worth an arrow: to another zone, half a load and more."""
    return tuple(move for move in haul.moves if move.start != move.end and move.loads >= SMALLEST)


def _about(metres: float, unit: LengthUnit) -> str:
    """Return a length to a tenth of a metre or foot: as exact as anybody barrows."""
    return f"{to_length_unit(metres, unit):.1f} {'m' if unit is LengthUnit.METRE else 'ft'}"


def _extent(plan: Plan, haul: Haul) -> Extent:
    """Return the pad and the heaps with room around them."""
    points = [plan.search.best.placement.corners(plan.pad)]
    points += [
        np.array([[h.east - h.radius, h.north - h.radius], [h.east + h.radius, h.north + h.radius]]) for h in haul.heaps
    ]
    return Extent.around(np.vstack(points), 0.1)


def _draw(axes: Axes, plan: Plan, haul: Haul) -> None:
    """Draw pad, moves and heaps."""
    placement = plan.search.best.placement
    areas = pad_areas(plan.ground, plan.pad, placement)
    for name in ("cut", "fill"):
        axes.add_patch(PathPatch(patch_of(getattr(areas, name)), **PAD_LOOKS[name], zorder=1))
    corners = placement.corners(plan.pad)
    axes.plot(*np.vstack([corners, corners[:2]]).T, **PAD_LOOKS["pad"], zorder=4)
    if plan.banks is not None:
        rim = plan.banks.outline
        axes.plot(*np.vstack([rim, rim[:1]]).T, **PAD_LOOKS["bank"], zorder=3)
    labels = Labels(axes)
    middle = corners.mean(axis=0)
    for letter, (east, north) in zip(plan.pad.marked[0], placement.to_site(plan.pad.marked[1]), strict=True):
        turn = np.degrees(np.arctan2(north - middle[1], east - middle[0]))
        labels.beside(letter, east, north, away=11.0, must=True, first=turn, fontsize=8, bbox=RING, zorder=9)
    for heap in haul.heaps:
        axes.add_patch(Circle((heap.east, heap.north), heap.radius, facecolor="0.93", edgecolor="black", zorder=2))
        labels.beside(f"heap: {heap.name}", heap.east, heap.north, away=0.1, must=True, fontsize=7, zorder=9)
    for number, move in enumerate(_shown(haul), 1):
        _arrow(axes, labels, number, move)


def _arrow(axes: Axes, labels: Labels, number: int, move: Move) -> None:
    """Draw one move, bent to its right so that two which cross are told apart."""
    width = 0.8 + 0.5 * min(move.loads, 10.0) ** 0.5
    bend = {"connectionstyle": "arc3,rad=0.12", "linewidth": width, **ARROW}
    axes.annotate("", move.end_at, move.start_at, arrowprops=bend, zorder=6)
    (east, north), (to_east, to_north) = move.start_at, move.end_at
    at_east = (east + to_east) / 2 + 0.06 * (to_north - north)
    at_north = (north + to_north) / 2 - 0.06 * (to_east - east)
    labels.beside(f"{number}: {load_words(move.loads)}", at_east, at_north, away=5.0, must=True, fontsize=7, zorder=9)
