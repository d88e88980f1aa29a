"""``spots.svg``, ``spots.png`` and ``spots.tif``: what every spot of the yard costs."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import rasterio
from affine import Affine
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter
from rasterio.io import MemoryFile

from spadework.ground import Ground
from spadework.placement import Limits, SearchResult
from spadework.placement.goal_words import value_label, value_scale
from spadework.plan import Plan, PlanInputs
from spadework.readings import FloatArray
from spadework.shots import Shots
from spadework.units import (
    LengthUnit,
    format_length,
    format_volume,
    to_length_unit,
    to_volume_unit,
    unit_label,
    volume_label,
)
from spadework.write.canvas import drawing_settings, empty_figure, map_axes, png_bytes, shown_extent, svg_bytes
from spadework.write.drawing import below_map
from spadework.write.labels import Labels
from spadework.write.map_frame import MARGIN, Extent
from spadework.write.map_land import draw_land, label_land

__all__ = ["KINDS", "spots_bytes", "spots_files", "spots_page"]

KINDS = (".svg", ".png", ".tif")
PAGE = (11.69, 8.27)  # A4 on its side [in]
NODATA = -9999.0
SHADES = "viridis_r"
SPOT: dict[str, Any] = {"color": "black", "linewidth": 1.6}
OTHER: dict[str, Any] = {"color": "black", "linewidth": 0.8, "linestyle": (0, (3, 2))}


@dataclass(frozen=True)
class _Land:
    """What the map shows of the land."""

    ground: Ground
    limits: Limits
    shots: Shots | None
    units: LengthUnit
    crs: str
    references: tuple[tuple[str, float, float], ...] = field(default=())


def spots_bytes(inputs: PlanInputs | Plan, result: SearchResult, kind: str) -> bytes:
    """Return the map as a file.

    Parameters
    ----------
    inputs : PlanInputs or Plan
        The site.
    result : SearchResult
        With a map of spots.
    kind : str
        One of `KINDS`.

    Raises
    ------
    ValueError
        If the result has no map.
    """
    if kind == ".tif":
        return _raster(inputs, result)
    page = spots_page(inputs, result)
    return svg_bytes(page, "spots") if kind == ".svg" else png_bytes(page)


def spots_files(inputs: PlanInputs | Plan, result: SearchResult) -> dict[str, bytes]:
    """Return the map in every kind, by file name.

    Parameters
    ----------
    inputs, result
        As for `spots_bytes`.
    """
    page = spots_page(inputs, result)
    return {"spots.svg": svg_bytes(page, "spots"), "spots.png": png_bytes(page), "spots.tif": _raster(inputs, result)}


def spots_page(inputs: PlanInputs | Plan, result: SearchResult) -> Figure:
    """Return the page: the yard coloured by cost, the spots, and the cost of the best one at each finish level.

    Parameters
    ----------
    inputs, result
        As for `spots_bytes`.
    """
    if result.spot_map is None:
        raise ValueError("the search has no map of spots")
    land = _Land(inputs.ground, inputs.limits, inputs.shots, inputs.units, inputs.crs)
    rings = [*inputs.ground.outline()[:1], *inputs.limits.boundary]
    with drawing_settings():
        figure = empty_figure(*PAGE)
        axes = map_axes(figure, (0.35, 0.95, 7.2, PAGE[1] - 1.3), Extent.around(np.vstack(rings), MARGIN))
        extent = shown_extent(axes)
        _shade(figure, axes, inputs, result)
        draw_land(axes, land, [])
        labels = Labels(axes)
        for number, spot in enumerate((result.best, *result.alternatives)):
            corners = spot.placement.corners(inputs.pad)
            axes.plot(*np.vstack([corners, corners[:1]]).T, **(OTHER if number else SPOT), zorder=6)
            words = f"other {number}" if number else "best"
            labels.beside(words, *corners.mean(axis=0), away=0.0, fontsize=7.0, color="black")
        label_land(labels, land, extent, [], 7.0)
        below_map(figure, axes, land, 0.25)
        _words(figure, inputs, result)
        _curve(figure, inputs, result)
    return figure


def _shade(figure: Figure, axes: Axes, inputs: PlanInputs | Plan, result: SearchResult) -> None:
    """Colour each position by its best value, with a bar."""
    spots = result.spot_map
    assert spots is not None  # noqa: S101 -- the caller has looked
    scale = value_scale(inputs.goal, inputs.units)
    step = _step(spots.east, spots.north)
    shown = np.ma.masked_invalid(spots.value * scale)
    # Dear spots are not told apart: what matters is where the cheap ones are.
    dearest = float(np.nanquantile(spots.value * scale, 0.9))
    image = axes.imshow(
        shown,
        origin="lower",
        extent=(
            spots.east[0] - step / 2,
            spots.east[-1] + step / 2,
            spots.north[0] - step / 2,
            spots.north[-1] + step / 2,
        ),
        cmap=SHADES,
        vmin=float(shown.min()),
        vmax=max(dearest, float(shown.min()) + 1e-9),
        interpolation="nearest",
        zorder=0.5,
        aspect=axes.get_aspect(),
        gid="spots",
    )
    bar = figure.colorbar(image, cax=_box(figure, 8.1, 4.15, 3.1, 0.14), orientation="horizontal", extend="max")
    bar.ax.tick_params(labelsize=6.5)
    bar.set_label(value_label(inputs.goal, inputs.units), fontsize=6.5)


def _curve(figure: Figure, inputs: PlanInputs | Plan, result: SearchResult) -> None:
    """Draw the value, the cut and the fill of the best spot at each finish level."""
    curve = result.finish_curve
    if curve is None:
        return
    axes = _box(figure, 8.3, 0.75, 3.0, 2.55)
    volume = to_volume_unit(1.0, inputs.units)
    finish = np.array([to_length_unit(level, inputs.units) for level in curve.finish])
    axes.plot(finish, curve.cut * volume, color="#a34700", linewidth=0.9, linestyle="--", label="cut")
    axes.plot(finish, curve.fill * volume, color="#1b5e91", linewidth=0.9, linestyle="-.", label="fill")
    scale = value_scale(inputs.goal, inputs.units)
    if inputs.goal.unit == "m³":
        axes.plot(finish, curve.value * scale, color="black", linewidth=1.6, label=inputs.goal.name)
    else:
        beside = axes.twinx()
        beside.plot(finish, curve.value * scale, color="black", linewidth=1.6)
        beside.set_ylim(0.0, 4.0 * max(result.best.value * scale, 1e-3))
        beside.tick_params(labelsize=6.5)
        beside.set_ylabel(value_label(inputs.goal, inputs.units), fontsize=6.5)
    axes.axvline(to_length_unit(result.best.placement.finish, inputs.units), color="0.5", linewidth=0.8, linestyle=":")
    own = result.best.value if inputs.goal.unit == "m³" else 0.0
    top = 4.0 * max(own, result.best.cut, result.best.fill, 0.02) * volume
    axes.set_ylim(0.0, top)
    axes.tick_params(labelsize=6.5)
    if inputs.units is LengthUnit.FOOT_INCH:
        axes.xaxis.set_major_formatter(FuncFormatter(lambda feet, _: f"{feet:.2f}"))
    unit = "ft" if inputs.units is LengthUnit.FOOT_INCH else unit_label(inputs.units)
    axes.set_xlabel(f"finish level [{unit}]", fontsize=6.5)
    axes.set_ylabel(volume_label(inputs.units), fontsize=6.5)
    axes.legend(fontsize=6.5, frameon=False)
    axes.set_title("The best spot at other finish levels", fontsize=7, pad=3)


def _words(figure: Figure, inputs: PlanInputs | Plan, result: SearchResult) -> None:
    """Write the title, what is shown and the spots."""
    lines = [f"{inputs.name}: every spot", "", *textwrap.wrap(_shown_words(inputs, result), 62), ""]
    for number, spot in enumerate((result.best, *result.alternatives)):
        at, name = spot.placement, f"other {number}" if number else "best"
        place = f"{format_length(at.east, inputs.units)} east, {format_length(at.north, inputs.units)} north"
        lines += textwrap.wrap(f"{name}: {place}, {at.bearing:.0f}°, {format_volume(spot.cut, inputs.units)} dug", 62)
    if result.proof is not None:
        lines += ["", *textwrap.wrap(result.proof.statement, 62)]
    for number, line in enumerate(lines):
        figure.text(
            8.0 / PAGE[0],
            (PAGE[1] - 0.45 - 0.145 * number) / PAGE[1],
            line,
            fontsize=10 if number == 0 else 7,
            weight="bold" if number == 0 else "normal",
        )


def _shown_words(inputs: PlanInputs | Plan, result: SearchResult) -> str:
    spots = result.spot_map
    assert spots is not None  # noqa: S101 -- the caller has looked
    step = format_length(_step(spots.east, spots.north), inputs.units)
    # The moves of soil are worked out for the best spots only.
    least = " Barrowing is what it is at least, by bounds." if inputs.goal.moved else ""
    return (
        f"Each colour is the least that a pad with its middle there costs ({inputs.goal.sentence or inputs.goal.name})"
        f", over the bearings tried and all finish levels, on a {step} grid.{least} White: no placement is allowed "
        "there."
    )


def _step(east: FloatArray, north: FloatArray) -> float:
    """Return the step of a grid. [m]"""
    axis = east if len(east) > 1 else north
    return float(axis[1] - axis[0]) if len(axis) > 1 else 1.0


def _box(figure: Figure, left: float, bottom: float, wide: float, high: float) -> Axes:
    """Return axes at a place of the page. [in]"""
    return figure.add_axes((left / PAGE[0], bottom / PAGE[1], wide / PAGE[0], high / PAGE[1]))


def _raster(inputs: PlanInputs | Plan, result: SearchResult) -> bytes:
    """Return value, bearing and finish at each position as a GeoTIFF of three bands."""
    spots = result.spot_map
    if spots is None:
        raise ValueError("the search has no map of spots")
    step = _step(spots.east, spots.north)
    bands = [spots.value, spots.bearing, spots.finish]
    with MemoryFile() as memory:  # type: ignore[no-untyped-call]
        with memory.open(
            driver="GTiff",
            width=len(spots.east),
            height=len(spots.north),
            count=3,
            dtype="float32",
            nodata=NODATA,
            compress="deflate",
            transform=Affine(step, 0, spots.east[0] - step / 2, 0, -step, spots.north[-1] + step / 2),
            crs=rasterio.CRS.from_user_input(inputs.crs) if inputs.crs else None,
        ) as target:
            counted = {"m³": "m3", "": "goal units"}.get(inputs.goal.unit, inputs.goal.unit)
            names = (
                f"least {inputs.goal.name} [{counted}]",
                "bearing that gives it [deg]",
                "finish level that gives it [m]",
            )
            for number, (band, name) in enumerate(zip(bands, names, strict=True), 1):
                target.write(np.where(np.isfinite(band), band, NODATA)[::-1].astype(np.float32), number)
                target.set_band_description(number, name)
            target.update_tags(site=inputs.name, date=inputs.date, units="m", datum=inputs.datum)
        return bytes(memory.read())
