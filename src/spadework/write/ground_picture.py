"""Draws the ground: contours, shots with what they miss the others by, breaklines, holes, and how sure it is where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Polygon
from matplotlib.ticker import MaxNLocator

from spadework.confidence import NextShot
from spadework.confidence.words import raster_words
from spadework.ground import Ground
from spadework.ground.process import GroundProcess
from spadework.ground.raster_doubt import RasterDoubt
from spadework.ground.sure import SureGround
from spadework.placement import KeepOut, Limits
from spadework.plan import Plan
from spadework.readings import FloatArray
from spadework.shots import Shots
from spadework.units import LengthUnit, format_area, format_length, format_slope, to_length_unit, unit_label
from spadework.write.canvas import drawing_settings, empty_figure, map_axes, shown_extent
from spadework.write.drawing import below_map
from spadework.write.labels import Labels
from spadework.write.map_frame import MARGIN, Extent, contour_interval
from spadework.write.map_land import LOOKS, draw_land, label_land, patch_of, shown_contours
from spadework.write.wrapping import wrapped

__all__ = ["GroundPicture", "ground_page"]

PAGE = (11.69, 8.27)  # A4 on its side [in]
ACROSS = 80
"""Points across the wider side at which the doubt is worked out."""
NOTEWORTHY = 2.0
"""Shots that miss the others by so many standard deviations are labelled."""
SHADES = "YlOrBr"
BREAK: dict[str, Any] = {"color": "#2b5d2b", "linewidth": 1.6}
HOLE: dict[str, Any] = {"facecolor": "none", "edgecolor": "0.5", "linewidth": 0.8, "hatch": "...."}
HIGH: dict[str, Any] = {"color": "#a34700", "marker": "^", "linestyle": "none", "markeredgewidth": 0}
LOW: dict[str, Any] = {"color": "#1b5e91", "marker": "v", "linestyle": "none", "markeredgewidth": 0}
NEXT: dict[str, Any] = {
    "color": "black",
    "marker": "o",
    "markerfacecolor": "white",
    "markersize": 9,
    "linestyle": "none",
}
PAD: dict[str, Any] = {"color": "black", "linewidth": 1.6}


@dataclass(frozen=True)
class GroundPicture:
    """What a picture of the ground shows.

    Parameters
    ----------
    name : str
        Of the site.
    units : LengthUnit
        The user's unit.
    ground : Ground
        The surface.
    shots : Shots, optional
        All of them; ``None`` for a raster.
    boundary : tuple of array, shape (n, 2)
        Rings, the outer first. [m]
    keep_outs : tuple of KeepOut
        What a pad keeps clear of.
    process : SureGround, optional
        How sure the ground is.
    next_shots : tuple of NextShot
        Where more shots would help, in their order.
    pad : array, shape (k, 2), optional
        Corners of the pad, where one is planned. [m]
    finish : float, optional
        Its finish level. [m]
    crs : str
        System of the axes, empty where they are the site's own.
    how, overrides : tuple of str
        How the numbers were got; rules that were set aside.
    """

    name: str
    units: LengthUnit
    ground: Ground
    shots: Shots | None = None
    boundary: tuple[FloatArray, ...] = ()
    keep_outs: tuple[KeepOut, ...] = ()
    process: SureGround | None = None
    next_shots: tuple[NextShot, ...] = ()
    pad: FloatArray | None = None
    finish: float | None = None
    crs: str = ""
    how: tuple[str, ...] = ()
    overrides: tuple[str, ...] = ()
    references: tuple[tuple[str, float, float], ...] = field(default=(), init=False)

    @classmethod
    def of_plan(cls, plan: Plan) -> GroundPicture:
        """Return the picture of a plan's ground, with its pad and the shots that would help most.

        Parameters
        ----------
        plan : Plan
            The plan.
        """
        sure, placement = plan.confidence, plan.search.best.placement
        return cls(
            name=f"{plan.name or 'Plan'}, {plan.date}",
            units=plan.units,
            ground=plan.ground,
            shots=plan.shots,
            boundary=plan.limits.boundary,
            keep_outs=plan.limits.keep_outs,
            process=None if sure is None else sure.process,
            next_shots=() if sure is None else sure.useful_shots,
            pad=placement.corners(plan.pad),
            finish=placement.finish,
            crs=plan.crs,
            how=plan.how,
            overrides=plan.overrides,
        )

    @property
    def limits(self) -> Limits:
        """Boundary and keep-outs as a plan has them."""
        return Limits(boundary=self.boundary, keep_outs=self.keep_outs)

    @property
    def extent(self) -> Extent:
        """The ground and the boundary, with a margin."""
        parts = [*self.ground.outline()[:1], *self.boundary]
        return Extent.around(np.vstack(parts), MARGIN)


def ground_page(picture: GroundPicture) -> Figure:
    """Return the page: the map, its legend, and the figures of the ground.

    Parameters
    ----------
    picture : GroundPicture
        What it shows.
    """
    with drawing_settings():
        figure = empty_figure(*PAGE)
        axes = map_axes(figure, (0.35, 0.95, 7.5, PAGE[1] - 1.3), picture.extent)
        extent = shown_extent(axes)
        labels = Labels(axes)
        contours = shown_contours(picture, extent, labels.metres_per_point * 0.1)
        shades = _shade(axes, picture)
        draw_land(axes, picture, contours)
        _draw_lines(axes, picture)
        missed = _draw_residuals(axes, labels, picture)
        _draw_next(axes, labels, picture)
        label_land(labels, picture, extent, contours, 7.0)
        below_map(figure, axes, picture, 0.25)
        bottom = _words(figure, picture, contour_interval(picture, extent), missed)
        _legend(figure, picture, shades, bottom)
    return figure


def _shade(axes: Axes, picture: GroundPicture) -> list[tuple[float, float, Any]]:
    """Shade the map by the doubt of the ground; return bounds and colour of each shade. [m]"""
    if picture.process is None:
        return []
    west, south, east, north = picture.ground.bounds
    step = max(east - west, north - south) / ACROSS
    across, up = np.arange(west - step, east + 2 * step, step), np.arange(south - step, north + 2 * step, step)
    places = np.column_stack([values.ravel() for values in np.meshgrid(across, up)])
    there = np.isfinite(picture.ground.level_at(places))
    if not there.any():
        return []
    doubt = picture.process.mean_sd(places)[1]
    scale = to_length_unit(1.0, picture.units)
    ticks = MaxNLocator(5).tick_values(0.0, float(doubt[there].max()) * scale)
    bounds = np.asarray(ticks, dtype=np.float64) / scale
    shown = axes.contourf(
        across, up, doubt.reshape(len(up), len(across)), levels=bounds, cmap=SHADES, alpha=0.45, zorder=0, extend="max"
    )
    rings = picture.ground.outline()
    measured = patch_of(shapely.Polygon(rings[0], [ring for ring in rings[1:] if len(ring) > 2]))
    shown.set_clip_path(measured, transform=axes.transData)
    colours = shown.get_facecolor()
    return [
        (float(low), float(high), colours[i % len(colours)]) for i, (low, high) in enumerate(pairwise(bounds.tolist()))
    ]


def _draw_lines(axes: Axes, picture: GroundPicture) -> None:
    """Draw breaklines, holes and the pad."""
    ground = picture.ground
    if len(ground.kept):
        corners = np.column_stack([ground.east, ground.north]) + ground.origin
        lines = LineCollection(list(corners[ground.kept]), **BREAK, zorder=3, gid="breaklines")
        axes.add_collection(lines, autolim=False)
    for ring in ground.outline()[1:]:
        axes.add_patch(Polygon(ring, closed=True, **HOLE, zorder=2, gid="hole"))
    if picture.pad is not None:
        axes.plot(*np.vstack([picture.pad, picture.pad[:1]]).T, **PAD, zorder=6)


def _draw_residuals(axes: Axes, labels: Labels, picture: GroundPicture) -> int:
    """Mark each shot by how far it is above or below what the others say; return how many are labelled."""
    if not isinstance(picture.process, GroundProcess):
        return 0
    left = picture.process.leave_one_out()
    place = picture.process.best.places[: len(left.error)] + picture.process.origin
    worst = max(float(np.abs(left.error).max()), 1e-9)
    count = 0
    for row in np.argsort(-np.abs(left.standardised), kind="stable").tolist():
        look = HIGH if left.error[row] > 0 else LOW
        size = 2.0 + 6.0 * abs(float(left.error[row])) / worst
        axes.plot(*place[row], **look, markersize=size, alpha=0.7, zorder=4, gid=f"residual:{row}")
        if abs(float(left.standardised[row])) > NOTEWORTHY:
            words = format_length(float(left.error[row]), picture.units, sign=True)
            labels.beside(words, *place[row], away=6.0, fontsize=6.0, color=look["color"])
            count += 1
    return count


def _draw_next(axes: Axes, labels: Labels, picture: GroundPicture) -> None:
    """Put numbers on the places where more shots would help."""
    for number, shot in enumerate(picture.next_shots, 1):
        axes.plot(shot.east, shot.north, **NEXT, zorder=7, gid=f"next:{number}")
        axes.text(shot.east, shot.north, str(number), fontsize=6, ha="center", va="center", zorder=8)
        labels.keep_clear(shot.east, shot.north, 10.0)


def _words(figure: Figure, picture: GroundPicture, interval: float, missed: int) -> float:
    """Write the name and the figures of the ground at the top right; return where they end. [in]"""
    ground, unit = picture.ground, picture.units
    plane = ground.mean_plane()
    wide, high = figure.get_size_inches()
    left, top = 8.1, float(high) - 0.35
    room = (wide - left - 0.3) * 72
    for text in wrapped(figure, f"{picture.name or 'Ground'}: the ground", room, 12, most=2, weight="bold"):
        figure.text(left / wide, top / high, text, fontsize=12, fontweight="bold", va="top", parse_math=False)
        top -= 0.22
    for override in picture.overrides:
        for text in wrapped(figure, override, room, 7.5, weight="bold"):
            figure.text(left / wide, top / high, text, fontsize=7.5, fontweight="bold", va="top", parse_math=False)
            top -= 0.155
    levels = f"{format_length(float(ground.level.min()), unit)} to {format_length(float(ground.level.max()), unit)}"
    size = f"{ground.size_words}, {format_area(ground.area, unit)}"
    lie = f"mean slope {format_slope(plane.slope)}, falling towards {plane.aspect:.0f}° from site north"
    rows = [
        f"{ground.kind}: {size}",
        f"Levels {levels}; {lie}; {format_length(plane.rms, unit)} from that plane (root mean square).",
        f"Contours every {format_length(interval, unit)}." if interval else "Level: no contours.",
    ]
    if isinstance(picture.process, RasterDoubt):
        rows.append(raster_words(picture.process, unit))
    if isinstance(picture.process, GroundProcess):
        rows.append(f"{picture.process.covariance.words(unit)}.")
        rows.append(
            f"Triangles: each shot above (up) or below (down) what all the others say of its place, larger the more; "
            f"{missed} of {picture.process.shot_count} by more than twice its standard deviation, labelled."
        )
    if picture.next_shots:
        rows.append("Numbered: where one more shot would help most, in that order.")
    rows += picture.how
    for row in rows:
        for text in wrapped(figure, row, room, 7.0, most=6):
            figure.text(left / wide, top / high, text, fontsize=7, va="top", parse_math=False)
            top -= 0.14
        top -= 0.04
    return top


def _legend(figure: Figure, picture: GroundPicture, shades: Sequence[tuple[float, float, Any]], bottom: float) -> None:
    """Explain what the map shows, below the figures."""
    entries: list[tuple[str, Any]] = [
        ("contour", Line2D([], [], **LOOKS["contour"])),
        ("edge of the measured ground", Line2D([], [], **LOOKS["ground"])),
    ]
    if len(picture.ground.kept):
        entries.append(("breakline", Line2D([], [], **BREAK)))
    if len(picture.ground.outline()) > 1:
        entries.append(("no ground", Patch(**HOLE)))
    if picture.boundary:
        entries.append(("boundary", Line2D([], [], **LOOKS["boundary"])))
    if picture.keep_outs:
        entries.append(("keep-out", Patch(**LOOKS["keep-out"])))
    if picture.shots is not None:
        entries.append(("shot", Line2D([], [], **LOOKS["shot"])))
    if isinstance(picture.process, GroundProcess):
        entries.append(("shot above the others", Line2D([], [], **HIGH, markersize=6)))
        entries.append(("shot below the others", Line2D([], [], **LOW, markersize=6)))
    if picture.next_shots:
        entries.append(("next shot", Line2D([], [], **NEXT)))
    if picture.pad is not None:
        entries.append(("pad", Line2D([], [], **PAD)))
    scale, unit = to_length_unit(1.0, picture.units), unit_label(picture.units)
    if picture.units is LengthUnit.FOOT_INCH:
        unit = "ft"
    entries += [
        (f"sd of the ground {low * scale:.3g} to {high * scale:.3g} {unit}", Patch(facecolor=colour, edgecolor="none"))
        for low, high, colour in shades
    ]
    wide, high = figure.get_size_inches()
    figure.legend(
        [handle for _, handle in entries],
        [words for words, _ in entries],
        loc="upper left",
        bbox_to_anchor=(8.1 / wide, bottom / high),
        fontsize=6.5,
        frameon=False,
        borderaxespad=0.0,
        handlelength=2.6,
    )
