"""Draws the ground as it would be seen from the low side: plane triangles in perspective, lit from the north-west."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.figure import Figure

from spadework.ground import Ground
from spadework.readings import FloatArray
from spadework.units import format_length, format_wind
from spadework.write.canvas import drawing_settings, empty_figure
from spadework.write.ground_picture import BREAK, GroundPicture
from spadework.write.map_frame import contour_interval
from spadework.write.map_land import LOOKS
from spadework.write.wrapping import wrapped

__all__ = ["View", "perspective_page"]

PAGE = (11.69, 8.27)  # A4 on its side [in]
MOST_TRIANGLES = 6_000
ACROSS = 60
"""Cells across the wider side of a ground that has more triangles than can be told apart."""
ELEVATION = 28.0
"""Angle from which the ground is seen. [deg]"""
AWAY = 2.6
"""Distance of the eye from the middle, in widths of the ground."""
RELIEF = 0.14
"""Share of its width that the relief of the ground is drawn with, at least."""
STEPS = (1, 2, 3, 5, 10, 20, 50)
LOWEST, HIGHEST = np.array([0.36, 0.50, 0.30]), np.array([0.86, 0.80, 0.62])
LIGHT = np.array([-0.5, 0.5, 0.7]) / math.sqrt(0.99)


@dataclass(frozen=True, eq=False)
class View:
    """An eye that looks at the middle of the ground.

    Parameters
    ----------
    middle : array, shape (3,)
        What it looks at: east, north, level. [m]
    away : float
        How far off it is. [m]
    bearing : float
        Where it stands, seen from the middle, clockwise from site north. [deg]
    elevation : float
        How high it stands over the horizon of the middle. [deg]
    exaggeration : float
        Heights are drawn so many times as large.
    """

    middle: FloatArray
    away: float
    bearing: float
    elevation: float
    exaggeration: float

    @classmethod
    def of(cls, ground: Ground) -> View:
        """Return the view from the side that the ground falls towards, its relief large enough to be seen."""
        west, south, east, north = ground.bounds
        width = max(east - west, north - south)
        relief = float(np.ptp(ground.level))
        wanted = RELIEF * width / relief if relief > 1e-6 * width else 1.0
        exaggeration = next((step for step in STEPS if step >= wanted), STEPS[-1])
        middle = np.array([(west + east) / 2, (south + north) / 2, float(ground.level.mean())])
        return cls(middle, AWAY * width, ground.mean_plane().aspect, ELEVATION, float(exaggeration))

    def seen(self, places: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return where places appear, shape (k, 2), and how far off they are, shape (k,).

        With ``d`` the distance along the line of sight, a place that is ``a`` to the right of it and ``b`` above
        appears at ``a / d, b / d``.

        Parameters
        ----------
        places : array, shape (k, 3)
            East, north and level. [m]
        """
        turn, rise = math.radians(self.bearing), math.radians(self.elevation)
        about = (places - self.middle) * np.array([1.0, 1.0, self.exaggeration])
        toward = np.array([math.sin(turn) * math.cos(rise), math.cos(turn) * math.cos(rise), math.sin(rise)])
        right = np.array([-math.cos(turn), math.sin(turn), 0.0])
        up = np.cross(toward, right)
        depth = self.away - about @ toward
        return np.column_stack([about @ right, about @ up]) / depth[:, None], depth


def perspective_page(picture: GroundPicture) -> Figure:
    """Return the page: the ground in perspective, its breaklines and the pad.

    Parameters
    ----------
    picture : GroundPicture
        What it shows.
    """
    ground = _fewer(picture.ground)
    view = View.of(picture.ground)
    with drawing_settings():
        figure = empty_figure(*PAGE)
        axes = figure.add_axes((0.03, 0.1, 0.94, 0.8))
        axes.set_axis_off()
        axes.set_aspect("equal")
        _surface(axes, ground, view)
        _lines(axes, picture, view)
        _north(figure, view)
        axes.autoscale_view()
        title = f"{picture.name or 'Ground'}: seen from {_side(view.bearing)}"
        figure.text(0.03, 0.95, title, fontsize=12, fontweight="bold", va="top", parse_math=False)
        above = [text for override in picture.overrides for text in wrapped(figure, override, PAGE[0] * 55, 8)]
        for row, text in enumerate(above):
            figure.text(0.03, 0.91 - 0.02 * row, text, fontsize=8, fontweight="bold", va="top", parse_math=False)
        low, high = float(picture.ground.level.min()), float(picture.ground.level.max())
        said = (
            f"Heights are drawn {view.exaggeration:g} times as large as lengths. Levels from "
            f"{format_length(low, picture.units)} (green) to {format_length(high, picture.units)} (sand)."
        )
        if ground is not picture.ground:
            said += " Drawn on a coarser grid; the figures are those of the whole ground."
        for row, text in enumerate(wrapped(figure, said, PAGE[0] * 66, 8)):
            figure.text(0.03, 0.06 - 0.02 * row, text, fontsize=8, va="top", parse_math=False)
    return figure


def _fewer(ground: Ground) -> Ground:
    """Return the ground on a grid where it has more triangles than can be told apart."""
    if ground.triangle_count <= MOST_TRIANGLES:
        return ground
    from spadework.ground import raster_ground  # noqa: PLC0415 -- only here
    from spadework.readings import RasterReading  # noqa: PLC0415 -- only here

    west, south, east, north = ground.bounds
    step = max(east - west, north - south) / ACROSS
    across, up = np.meshgrid(np.arange(west, east + step / 2, step), np.arange(south, north + step / 2, step))
    level = ground.level_at(np.column_stack([across.ravel(), up.ravel()])).reshape(across.shape)
    return raster_ground(RasterReading(across, up, level, "the ground"))


def _corners(ground: Ground) -> FloatArray:
    return np.column_stack([ground.east + ground.origin[0], ground.north + ground.origin[1], ground.level])


def _surface(axes: Axes, ground: Ground, view: View) -> None:
    """Draw the triangles, the farthest first."""
    corners = _corners(ground)
    flat, depth = view.seen(corners)
    order = np.argsort(-depth[ground.triangles].mean(axis=1), kind="stable")
    triangles = ground.triangles[order]
    solid = corners[triangles] * np.array([1.0, 1.0, view.exaggeration])
    normal = np.cross(solid[:, 1] - solid[:, 0], solid[:, 2] - solid[:, 0])
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    low, high = float(ground.level.min()), float(ground.level.max())
    height = (ground.level[triangles].mean(axis=1) - low) / max(high - low, 1e-9)
    colour = LOWEST + height[:, None] * (HIGHEST - LOWEST)
    colour = np.clip(colour * (0.55 + 0.55 * np.clip(normal @ LIGHT, 0.0, 1.0))[:, None], 0.0, 1.0)
    thin = 0.2 if len(triangles) < 1500 else 0.0
    edge = colour * 0.8 if thin else colour
    axes.add_collection(
        PolyCollection(list(flat[triangles]), facecolors=colour, edgecolors=edge, linewidths=thin or 0.3)
    )


def _lines(axes: Axes, picture: GroundPicture, view: View) -> None:
    """Draw contours, shots, breaklines, the rim, and the pad at its finish level, joined to the ground at corners."""
    ground = picture.ground
    corners = _corners(ground)
    if len(ground.kept):
        flat, _ = view.seen(corners)
        axes.add_collection(LineCollection(list(flat[ground.kept]), **BREAK, gid="breaklines"))
    interval = contour_interval(picture, picture.extent)
    for level, line in ground.contours(interval) if interval else []:
        flat, _ = view.seen(np.column_stack([line, np.full(len(line), level)]))
        axes.plot(*flat.T, **LOOKS["contour"])
    shots = picture.shots
    if shots is not None:
        there = np.isfinite(shots.level + ground.level_at(np.column_stack([shots.east, shots.north])))
        flat, _ = view.seen(np.column_stack([shots.east, shots.north, shots.level])[there])
        axes.plot(*flat.T, color="0.2", marker=".", markersize=3, linestyle="none")
    for ring in ground.outline():
        closed = np.vstack([ring, ring[:1]])
        flat, _ = view.seen(np.column_stack([closed, ground.level_at(closed)]))
        axes.plot(*flat.T, color="0.25", linewidth=0.8)
    if picture.pad is not None:
        stands = ground.level_at(picture.pad)
        finish = picture.finish if picture.finish is not None else float(np.nanmean(stands))
        top = np.column_stack([picture.pad, np.full(len(picture.pad), finish)])
        flat, _ = view.seen(np.vstack([top, top[:1]]))
        axes.plot(*flat.T, color="black", linewidth=1.6, gid="pad")
        foot, _ = view.seen(np.column_stack([picture.pad, stands]))
        for start, end in zip(flat[:-1], foot, strict=True):
            axes.plot(*np.array([start, end]).T, color="black", linewidth=0.8)


def _north(figure: Figure, view: View) -> None:
    """Draw an arrow to site north as it lies on level ground in the middle, in a corner of the page."""
    ends = np.array([[0.0, -0.5, 0.0], [0.0, 0.5, 0.0]]) * 0.1 * view.away + view.middle
    run = np.diff(view.seen(ends)[0], axis=0)[0] * 6.0
    inset = figure.add_axes((0.87, 0.83, 0.1, 0.14))
    inset.set_axis_off()
    inset.set_aspect("equal")
    inset.set_xlim(-0.6, 0.6)
    inset.set_ylim(-0.6, 0.6)
    arrow = {"arrowstyle": "-|>", "color": "black", "linewidth": 1.4, "mutation_scale": 11}
    inset.annotate("", xy=run / 2, xytext=-run / 2, arrowprops=arrow)
    inset.annotate("N", xy=run / 2 * 1.35, ha="center", va="center", fontsize=9)


def _side(bearing: float) -> str:
    """Return a bearing as a side in words."""
    return f"the {format_wind(bearing)}"
