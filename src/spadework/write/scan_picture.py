"""``spots.png``: where on the raster the spots lie, over what no pad costs less than."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from spadework.ground import Ground
from spadework.placement import Limits
from spadework.placement.raster_report import ScanReport
from spadework.shots import Shots
from spadework.units import LengthUnit, format_length, format_volume, to_volume_unit, volume_label
from spadework.write.canvas import drawing_settings, empty_figure, map_axes, png_bytes
from spadework.write.drawing import below_map
from spadework.write.labels import Labels
from spadework.write.map_frame import MARGIN, Extent

__all__ = ["scan_page", "scan_png_bytes"]

PAGE = (11.69, 8.27)  # A4 on its side [in]
SHADES = "viridis_r"
LISTED = 20


@dataclass(frozen=True)
class _Land:
    """What the scale bar and the arrow ask of the land."""

    ground: Ground
    limits: Limits
    shots: Shots | None
    units: LengthUnit
    crs: str
    references: tuple[tuple[str, float, float], ...] = ()


def scan_png_bytes(report: ScanReport, unit: LengthUnit) -> bytes:
    """Return the picture as PNG.

    Parameters
    ----------
    report : ScanReport
        The scan.
    unit : LengthUnit
        The user's unit.
    """
    return png_bytes(scan_page(report, unit))


def scan_page(report: ScanReport, unit: LengthUnit) -> Figure:
    """Return the page: the raster coloured by its bound, the spots by rank, and their list."""
    lattice = report.lattice
    rows, columns = lattice.rows, lattice.columns
    rim = lattice.centres(np.array([0.0, 0.0, rows, rows]) - 0.5, np.array([0.0, columns, columns, 0.0]) - 0.5)
    with drawing_settings():
        figure = empty_figure(*PAGE)
        axes = map_axes(figure, (0.35, 0.95, 7.2, PAGE[1] - 1.3), Extent.around(rim, MARGIN))
        _shade(figure, axes, report, unit)
        for rings in report.land.boundaries:
            axes.plot(*np.vstack([rings[0], rings[0][:1]]).T, color="black", linewidth=0.9, zorder=4)
        for keep_out in report.land.keep_outs:
            ring = np.vstack([keep_out.outline, keep_out.outline[:1]])
            axes.plot(*ring.T, color="#a02020", linewidth=0.8, marker="x" if keep_out.is_circle else "", zorder=4)
        labels = Labels(axes)
        for found in report.spots:
            at = found.spot.placement
            axes.plot([at.east], [at.north], "o", color="white", markeredgecolor="black", markersize=4, zorder=6)
            labels.keep_clear(at.east, at.north, 5.0)
        for rank, found in enumerate(report.spots, 1):
            at = found.spot.placement
            labels.beside(str(rank), at.east, at.north, away=5.0, must=True, fontsize=7.0, color="black", zorder=7)
        below_map(figure, axes, _land(unit, report.crs), 0.25)
        _words(figure, report, unit)
    return figure


def _land(unit: LengthUnit, crs: str) -> _Land:
    corner = np.array([0.0, 1.0, 0.0])
    ground = Ground(np.zeros(2), corner, corner[::-1], np.zeros(3), np.array([[0, 1, 2]], dtype=np.int32), "none")
    return _Land(ground, Limits(), None, unit, crs)


def _shade(figure: Figure, axes: Axes, report: ScanReport, unit: LengthUnit) -> None:
    """Colour each part of the raster by its bound, with a bar."""
    overview = report.scan.overview
    shown = np.ma.masked_invalid(overview.least * to_volume_unit(1.0, unit))
    if shown.count() == 0:
        return
    rows, columns = (np.arange(size + 1) * overview.cells for size in overview.least.shape)
    rows, columns = np.minimum(rows, report.lattice.rows), np.minimum(columns, report.lattice.columns)
    corner = report.lattice.centres(*(grid - 0.5 for grid in np.meshgrid(rows, columns, indexing="ij")))
    # Dear places are not told apart: what matters is where the cheap ones are.
    dearest = float(np.quantile(shown.compressed(), 0.9))
    image = axes.pcolormesh(
        corner[..., 0],
        corner[..., 1],
        shown,
        cmap=SHADES,
        vmin=float(shown.min()),
        vmax=max(dearest, float(shown.min()) + 1e-9),
        zorder=0.5,
        rasterized=True,
    )
    bar = figure.colorbar(image, cax=_box(figure, 8.1, 0.75, 3.1, 0.14), orientation="horizontal", extend="max")
    bar.ax.tick_params(labelsize=6.5)
    bar.set_label(f"no pad here costs less {report.goal.name} than [{volume_label(unit)}]", fontsize=6.5)


def _words(figure: Figure, report: ScanReport, unit: LengthUnit) -> None:
    """Write the title and the list of spots."""
    goal = report.goal.sentence or report.goal.name
    size = " x ".join(format_length(side, unit) for side in np.ptp(report.pad.outline, axis=0).tolist())
    lines = [
        "Spots on the raster",
        "",
        *textwrap.wrap(
            f"{report.file}: pad {size}; {goal}. East, north and level in {report.crs or 'plain metres'}.", 62
        ),
        "",
    ]
    for rank, found in enumerate(report.spots[:LISTED], 1):
        at = found.spot.placement
        place = f"{format_length(at.east, unit)} east, {format_length(at.north, unit)} north"
        lines.append(f"{rank}: {place}, {at.bearing:.0f}°, {format_volume(found.spot.cut, unit)} dug")
    if len(report.spots) > LISTED:
        lines.append(f"and {len(report.spots) - LISTED} more in spots.csv")
    for number, line in enumerate(lines):
        figure.text(
            8.0 / PAGE[0],
            (PAGE[1] - 0.45 - 0.155 * number) / PAGE[1],
            line,
            fontsize=10 if number == 0 else 7,
            weight="bold" if number == 0 else "normal",
            parse_math=False,
        )


def _box(figure: Figure, left: float, bottom: float, wide: float, high: float) -> Axes:
    """Return axes at a place of the page. [in]"""
    return figure.add_axes((left / PAGE[0], bottom / PAGE[1], wide / PAGE[0], high / PAGE[1]))
