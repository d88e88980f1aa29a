"""Draws the plan of the yard: a page with map, pad, legend and title, and the same maps alone for a phone.

Text stays text in the SVG, and the same plan gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from spadework.plan import Plan
from spadework.write.canvas import drawing_settings, empty_figure, map_axes, shown_extent
from spadework.write.labels import Labels
from spadework.write.map_frame import Extent, Land, pad_extent, scale_bar, yard_extent
from spadework.write.map_land import LOOKS, draw_land, label_land, label_references, shown_contours
from spadework.write.map_pad import PAD_LOOKS, draw_pad, label_line_stakes, label_pad, label_sides, label_ties
from spadework.write.pad_areas import PadAreas, pad_areas
from spadework.write.sheet_words import origin_words, summary_rows
from spadework.write.wrapping import wrapped

__all__ = ["below_map", "draw_detail", "pad_map", "yard_map", "yard_page"]

PAGE = (11.69, 8.27)  # A4 on its side [in]
PHONE = 5.0  # width of a map for a phone: 360 points, so that a point is a pixel on a small one [in]
FINENESS = 0.1  # bends of a contour smaller than this are not drawn [points]


def yard_page(plan: Plan) -> Figure:
    """Return the whole page: the yard, the pad enlarged, legend, title block, and how the numbers were got.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    with drawing_settings():
        figure = empty_figure(*PAGE)
        areas = pad_areas(plan.ground, plan.pad, plan.search.best.placement)
        foot = _foot(figure, plan)
        bottom = _title_block(figure, plan, 8.0, PAGE[1] - 0.3)
        yard = map_axes(figure, (0.35, foot + 0.6, 7.3, PAGE[1] - foot - 0.95), yard_extent(plan))
        room = min(bottom - 0.25 - (foot + 1.6), 3.35)
        detail = map_axes(figure, (8.0, foot + 1.6, 3.35, max(room, 1.2)), pad_extent(plan))
        _draw_yard(yard, plan, areas, 7.0)
        draw_detail(detail, plan, areas, 7.0)
        detail.set_title("Pad, enlarged: marks are cut (C) or fill (F) after the strip", fontsize=6.5, pad=3)
        below_map(figure, yard, plan, foot + 0.14)
        _legend(figure, plan, (8.0, foot + 0.1))
    return figure


def yard_map(plan: Plan) -> Figure:
    """Return the map of the yard alone, for a phone."""
    return _map_alone(plan, yard_extent(plan), _draw_yard)


def pad_map(plan: Plan) -> Figure:
    """Return the map of the pad alone, for a phone."""
    return _map_alone(plan, pad_extent(plan), draw_detail)


def _draw_yard(axes: Axes, plan: Plan, areas: PadAreas, size: float) -> None:
    """Draw the yard and label it, what matters most first."""
    extent = shown_extent(axes)
    labels = Labels(axes)
    contours = shown_contours(plan, extent, labels.metres_per_point * FINENESS)
    draw_land(axes, plan, contours)
    draw_pad(axes, plan, areas)
    label_references(labels, plan, extent, size)
    label_pad(labels, plan, areas, size, marks=False)
    label_land(labels, plan, extent, contours, size)
    label_ties(labels, plan, extent, size)


def draw_detail(axes: Axes, plan: Plan, areas: PadAreas, size: float) -> None:
    """Draw the pad and what is near it, with the marks of the stakes."""
    extent = shown_extent(axes)
    labels = Labels(axes)
    contours = shown_contours(plan, extent, labels.metres_per_point * FINENESS)
    draw_land(axes, plan, contours)
    draw_pad(axes, plan, areas)
    label_references(labels, plan, extent, size)
    label_pad(labels, plan, areas, size, marks=True)
    label_line_stakes(labels, plan, extent, size)
    label_sides(labels, plan, size)
    label_ties(labels, plan, extent, size)
    label_land(labels, plan, extent, contours, size)


def _map_alone(plan: Plan, extent: Extent, draw: Callable[[Axes, Plan, PadAreas, float], None]) -> Figure:
    """Return a figure of phone width with one map, north arrow and scale bar."""
    with drawing_settings():
        across = PHONE - 0.1
        up = min(max(across * (extent.north - extent.south) / (extent.east - extent.west), 3.0), 6.5)
        figure = empty_figure(PHONE, up + 0.65)
        axes = map_axes(figure, (0.05, 0.6, across, up), extent)
        draw(axes, plan, pad_areas(plan.ground, plan.pad, plan.search.best.placement), 9.5)
        below_map(figure, axes, plan, 0.12, size=9.5)
    return figure


def below_map(figure: Figure, axes: Axes, plan: Land, bottom: float, *, size: float = 7.0) -> None:
    """Draw the scale bar at the left below a map and the north arrow at the right."""
    wide, high = figure.get_size_inches()
    frame = axes.get_position()
    extent = shown_extent(axes)
    metres = extent.east - extent.west
    length, words = scale_bar(metres, plan.units)
    across = length / metres * frame.width
    for part in range(4):
        figure.add_artist(
            Rectangle(
                (frame.x0 + part * across / 4, (bottom + 0.02) / high),
                across / 4,
                0.07 / high,
                facecolor="black" if part % 2 == 0 else "white",
                edgecolor="black",
                linewidth=0.6,
                label="scale bar",
            )
        )
    up = (bottom + 0.14) / high
    figure.text(frame.x0, up, "0", fontsize=size, ha="left", va="bottom")
    figure.text(frame.x0 + across, up, words, fontsize=size, ha="center", va="bottom")
    at = frame.x1 - 0.12 / wide
    figure.text(at - 0.12 / wide, (bottom + 0.16) / high, _north_words(plan), fontsize=size, ha="right", va="center")
    arrow = {"arrowstyle": "-|>", "color": "black", "linewidth": 1.4, "mutation_scale": 11}
    axes.annotate(
        "",
        xy=(at, (bottom + 0.4) / high),
        xytext=(at, (bottom - 0.02) / high),
        xycoords="figure fraction",
        textcoords="figure fraction",
        arrowprops=arrow,
        annotation_clip=False,
    )


def _north_words(plan: Land) -> str:
    """Return which north the arrow points to."""
    return "N, grid north" if plan.crs else "N, north of the site's own axes"


def _title_block(figure: Figure, plan: Plan, left: float, top: float) -> float:
    """Write name, overrides, origin and figures at the top right of the page; return where they end. [in]"""
    wide, high = figure.get_size_inches()
    room = (wide - left - 0.35) * 72
    line = 0.155
    for text in wrapped(figure, plan.name or "Plan", room, 12, most=2, weight="bold"):
        figure.text(left / wide, top / high, text, fontsize=12, fontweight="bold", va="top", parse_math=False)
        top -= 0.22
    for override in plan.overrides:
        for text in wrapped(figure, override, room, 7.5, weight="bold"):
            figure.text(left / wide, top / high, text, fontsize=7.5, fontweight="bold", va="top", parse_math=False)
            top -= line
    for name, value in (*origin_words(plan), *summary_rows(plan)):
        figure.text(left / wide, top / high, name, fontsize=7.5, va="top", color="0.3")
        for text in wrapped(figure, value, room - 92, 7.5, most=5):
            figure.text((left + 92 / 72) / wide, top / high, text, fontsize=7.5, va="top", parse_math=False)
            top -= line
    return top


def _legend(figure: Figure, plan: Plan, corner: tuple[float, float]) -> None:
    """Explain every line and hatch that the page shows."""
    wide, high = figure.get_size_inches()
    entries: list[tuple[str, Any]] = [
        ("cut (C): dig", Patch(**PAD_LOOKS["cut"])),
        ("fill (F): make up", Patch(**PAD_LOOKS["fill"])),
        ("neither cut nor fill", Line2D([], [], **PAD_LOOKS["zero"])),
        ("pad and its stakes", Line2D([], [], **{**PAD_LOOKS["pad"], "marker": "s", "markersize": 4})),
        ("point on a side", Line2D([], [], **PAD_LOOKS["side"])),
        ("contour", Line2D([], [], **LOOKS["contour"])),
        ("edge of the measured ground", Line2D([], [], **LOOKS["ground"])),
    ]
    if plan.stakeout.offsets:
        entries.insert(4, ("offset stake", Line2D([], [], **PAD_LOOKS["offset"])))
    if plan.banks is not None:
        entries.append(("where the banks end", Line2D([], [], **PAD_LOOKS["bank"])))
    if plan.limits.boundary:
        entries.append(("boundary", Line2D([], [], **LOOKS["boundary"])))
    if plan.limits.setback > 0:
        entries.append(("setback", Line2D([], [], **LOOKS["setback"])))
    if plan.limits.keep_outs:
        entries.append(("keep-out", Patch(**LOOKS["keep-out"])))
    if plan.limits.reaches:
        entries.append(("reach of a point", Patch(**LOOKS["reach"])))
    if plan.limits.reaches or plan.limits.facings:
        entries.append(("point to reach or face", Line2D([], [], **LOOKS["point"])))
    if plan.pad.front:
        entries.append(("front", Line2D([], [], **PAD_LOOKS["front"])))
    if plan.shots is not None and len(plan.shots):
        entries.append(("shot", Line2D([], [], **LOOKS["shot"])))
    if plan.references:
        entries.append(("reference to tape from", Line2D([], [], **LOOKS["reference"])))
        entries.append(("tie, taped level", Line2D([], [], **PAD_LOOKS["tie"])))
    figure.legend(
        [handle for _, handle in entries],
        [words for words, _ in entries],
        loc="lower left",
        bbox_to_anchor=(corner[0] / wide, corner[1] / high),
        ncols=2,
        fontsize=6.5,
        frameon=False,
        borderaxespad=0.0,
        handlelength=2.6,
        handleheight=1.1,
        columnspacing=1.2,
    )


def _foot(figure: Figure, plan: Plan) -> float:
    """Write how the numbers were got and the cautions along the foot of the page; return how high they stand. [in]"""
    wide, high = figure.get_size_inches()
    room, size, line = (wide - 0.7) * 72, 5.6, 0.098
    cautions = " ".join(caution.text for caution in plan.cautions)
    parts = [f"How the numbers were got: {' '.join(plan.how)}" if plan.how else "", f"Cautions: {cautions}"]
    lines = [text for part in parts if part for text in wrapped(figure, part, room, size)]
    for row, text in enumerate(reversed(lines)):
        figure.text(0.35 / wide, (0.2 + row * line) / high, text, fontsize=size, va="bottom", parse_math=False)
    return 0.25 + len(lines) * line
