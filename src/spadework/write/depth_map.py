"""Draws the depth map: the pad along the page, corner A at the top left, with what to dig or make up in numbers.

It lies as the table of depths does: along to the right, across downwards.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch

from spadework.plan import Plan
from spadework.readings import FloatArray
from spadework.stakeout import depth_mark
from spadework.stakeout.round_pad import marked_points
from spadework.units import format_length
from spadework.write.canvas import drawing_settings, empty_figure, map_axes
from spadework.write.foot import foot_parts, write_foot
from spadework.write.labels import Labels
from spadework.write.map_frame import Extent
from spadework.write.map_land import patch_of
from spadework.write.map_pad import PAD_LOOKS, RING
from spadework.write.pad_areas import pad_areas
from spadework.write.sheet_words import grid_start

__all__ = ["depth_figure", "depth_page"]

PAGE = (11.69, 8.27)  # A4 on its side [in]
MARGIN = 0.13


def depth_page(plan: Plan) -> Figure:
    """Return the page, with title and foot.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    with drawing_settings():
        figure = empty_figure(*PAGE)
        foot = write_foot(figure, foot_parts(plan))
        wide, high = PAGE
        title = f"{plan.name or 'Plan'}, {plan.date}: depths over the pad"
        figure.text(0.35 / wide, (high - 0.3) / high, title, fontsize=12, fontweight="bold", va="top", parse_math=False)
        _draw(figure, plan, (0.35, foot + 0.15, wide - 0.7, high - foot - 0.75), 9.0)
    return figure


def depth_figure(plan: Plan, wide: float, high: float) -> Figure:
    """Return the map alone, for a page that has its own title. [in]"""
    with drawing_settings():
        figure = empty_figure(wide, high)
        _draw(figure, plan, (0.0, 0.0, wide, high), 8.0)
    return figure


def _draw(figure: Figure, plan: Plan, box: tuple[float, float, float, float], size: float) -> None:
    """Draw the map into a box ``left, bottom, width, height`` of the page. [in]"""
    left, bottom, across, up = box
    outline = _on_page(plan.pad.outline)
    axes = map_axes(figure, (left, bottom + 0.45, across, up - 0.45), Extent.around(outline, MARGIN))
    axes.set_frame_on(False)
    areas = pad_areas(plan.ground, plan.pad, plan.search.best.placement)
    for name in ("cut", "fill"):
        shape = shapely.transform(
            getattr(areas, name), lambda points: _on_page(plan.search.best.placement.to_pad(points))
        )
        axes.add_patch(PathPatch(patch_of(shape), **PAD_LOOKS[name], zorder=1))
    zero = shapely.transform(areas.zero, lambda points: _on_page(plan.search.best.placement.to_pad(points)))
    for line in shapely.get_parts(zero):
        if line.geom_type == "LineString":
            axes.plot(*np.asarray(line.coords).T, **PAD_LOOKS["zero"], zorder=2)
    axes.plot(*np.vstack([outline, outline[:1]]).T, **PAD_LOOKS["pad"], zorder=3)
    axes.plot(*_on_page(marked_points(plan.pad)[1]).T, **PAD_LOOKS["stake"], zorder=4)
    left_out = _numbers(axes, plan, size)
    level = format_length(plan.earthwork.formation, plan.units)
    words = (
        "Seen from above, along the pad's bearing to the right. C: dig down, F: make up, from the stripped ground to "
        f"the formation at {level}. Spacing {_spacing(plan)} from {grid_start(plan)}; site north {_north(plan)}, as "
        "the arrow shows."
    )
    if left_out:
        words += f" {left_out} numbers found no room: depths.csv has them all."
    _arrow(axes, plan, (left + across - 0.5, bottom + 0.8))
    wide, high = figure.get_size_inches()
    figure.text(
        left / wide, (bottom + 0.3) / high, words, fontsize=min(size, 7.5), va="top", wrap=True, parse_math=False
    )


def _numbers(axes: Axes, plan: Plan, size: float) -> int:
    """Write the mark at each point of the depth grid, letters at the corners; return how many found no room."""
    grid, labels = plan.stakeout.grid, Labels(axes)
    middle = _on_page(plan.pad.outline).mean(axis=0)
    ring: dict[str, Any] = {"bbox": RING, "fontsize": size * 1.1, "fontweight": "bold"}
    for name, (u, v) in zip(plan.pad.marked[0], _on_page(plan.pad.marked[1]), strict=True):
        outward = math.degrees(math.atan2(v - middle[1], u - middle[0]))
        labels.beside(name, float(u), float(v), away=9.0, must=True, first=outward, **ring)
    low = plan.pad.outline.min(axis=0)
    left_out = 0
    for row, across in enumerate(grid.across):
        for column, along in enumerate(grid.along):
            depth = float(grid.depth[row, column])
            if math.isnan(depth):
                continue
            u, v = _on_page(np.array([[low[0] + along, low[1] + across]]))[0]
            axes.plot(u, v, marker=".", markersize=3, color="black", zorder=5)
            off = size * labels.metres_per_point
            down = 1.0 if row == len(grid.across) - 1 else -1.0
            aside = (2.0 if column == 0 else -2.0) if column in {0, len(grid.along) - 1} else 0.0
            places = [(float(u) + aside * off, float(v) + step * down * off, 0.0) for step in (1.0, 1.4, -1.0)]
            left_out += not labels.over(depth_mark(depth, plan.units), places, fontsize=size)
    return left_out


def _arrow(axes: Axes, plan: Plan, middle: tuple[float, float]) -> None:
    """Draw an arrow to site north about a point of the page. [in]"""
    wide, high = axes.figure.get_size_inches()  # type: ignore[union-attr]
    turn = math.radians(90.0 - plan.search.best.placement.bearing)
    across, up = 0.28 * math.sin(turn), 0.28 * math.cos(turn)
    ends = [((middle[0] + sign * across) / wide, (middle[1] + sign * up) / high) for sign in (-1, 1)]
    axes.annotate(
        "N",
        xy=ends[1],
        xytext=ends[0],
        xycoords="figure fraction",
        textcoords="figure fraction",
        fontsize=7.5,
        ha="center",
        va="center",
        arrowprops={"arrowstyle": "-|>", "color": "black", "linewidth": 1.4, "mutation_scale": 11},
        annotation_clip=False,
    )


def _on_page(places: FloatArray) -> FloatArray:
    """Return places of the pad's frame as they lie on the page: along to the right, across downwards."""
    turned: FloatArray = np.asarray(places) * np.array([1.0, -1.0])
    return turned


def _spacing(plan: Plan) -> str:
    """Return the spacing of the depth grid in words."""
    steps = plan.stakeout.grid.along
    return format_length(float(steps[1] - steps[0]), plan.units) if len(steps) > 1 else "none"


def _north(plan: Plan) -> str:
    """Return where north lies on the page, by the clock."""
    turn = (90.0 - plan.search.best.placement.bearing) % 360.0  # clockwise from the top of the page [deg]
    hour = round(turn / 30.0) % 12 or 12
    return f"at {hour} o'clock"
