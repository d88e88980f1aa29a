"""A raster file scanned for the spots of a pad: read by windows, searched, and the best worked out on its triangles."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from spadework.earthwork._compile import COMPILED
from spadework.errors import Fault, InputError, PlacementError
from spadework.factors import SoilFactors
from spadework.pad import Pad
from spadework.placement.goals import GOALS, Goal
from spadework.placement.limits import KeepOut
from spadework.placement.raster_frame import Lattice
from spadework.placement.raster_land import RasterLand
from spadework.placement.raster_report import ScanReport
from spadework.placement.raster_search import MapTo, RasterScan, scan_raster, whole_tile
from spadework.placement.raster_spots import exact_spots
from spadework.placement.raster_tables import HeightLimits
from spadework.placement.shape import PadShape
from spadework.read.outline import Outline, read_outline
from spadework.read.raster_windows import RasterWindows, raster_windows

__all__ = ["outlines_on", "scan_file"]

CANDIDATES = 3
"""Candidates of the scan for each spot wanted, and a few more: on the triangles their order changes."""
COARSE_PAD = 3.0
"""A pad of fewer cells across is coarsely described."""
PLAIN_CELLS = 250_000
"""Without a compiler more cells than these take long."""
MANY_CELLS = 4000
"""Pads of more cells take very long."""


def scan_file(
    path: str | Path,
    pad: Pad,
    *,
    goal: Goal = GOALS["digging"],
    soil: SoilFactors | float,
    bearings: int | Sequence[float] = 36,
    spots: int = 10,
    apart: float | None = None,
    heights: HeightLimits | None = None,
    boundaries: Sequence[str | Path] = (),
    setback: float = 0.0,
    keep_outs: Sequence[str | Path] = (),
    clearance: float = 0.0,
    crs: str | None = None,
    vertical_unit: str | None = None,
    band: int | None = None,
    nodata: float | None = None,
    accuracy: float | None = None,
    tile: int = 1024,
    map_for: Callable[[Lattice, str, int], MapTo] | None = None,
    progress: Callable[[float, float], None] | None = None,
) -> ScanReport:
    """Search a raster file, at every cell and bearing, for the spots where a pad costs least.

    Parameters
    ----------
    path : str or Path
        An elevation raster in a projection, of any size.
    pad : Pad
        Any simple outline, with retained edges. Its strip and build-up shift the levels and not the cost.
    goal : Goal
        What should be least.
    soil : SoilFactors or float
        How soil shrinks; or, as a number, the compacted volume that one volume in the bank makes.
    bearings : int or sequence of float
        How many, evenly over the turn that repeats the pad, or which. [deg]
    spots : int
        How many spots are wanted.
    apart : float, optional
        Least distance between two spots; the pad's diagonal if not given. [m]
    heights : HeightLimits, optional
        Limits on depth, fall and slope.
    boundaries, keep_outs : sequence of str or Path
        GeoJSON files: areas in which the pad must lie, and areas and points that it must keep clear of.
    setback, clearance : float
        Least distance to the rings of a boundary, and to a keep-out. [m]
    crs, vertical_unit, band, nodata
        As for `raster_windows`.
    accuracy : float, optional
        Standard deviation of a cell's level, where it is known. [m]
    tile : int
        Rows and columns held in memory at once, about.
    map_for : callable, optional
        Called with the raster's lattice, its coordinate reference system and the rows and columns of a tile; returns
        where the best value of every cell goes.
    progress : callable, optional
        Called with the share done and the best value so far.

    Returns
    -------
    ScanReport

    Raises
    ------
    InputError
        For a raster or an outline that cannot be used, a pad with banks, cells larger than the pad.
    PlacementError
        If no pose keeps all limits.
    """
    heights = heights or HeightLimits()
    with raster_windows(path, crs=crs, vertical_unit=vertical_unit, band=band, nodata=nodata) as windows:
        _check_pad(pad, goal, windows)
        land = RasterLand(
            tuple(area.rings for file in boundaries for area in outlines_on(windows, file).areas),
            setback if boundaries else 0.0,
            _kept_clear(windows, keep_outs, clearance),
        )
        keep = soil if isinstance(soil, float | int) else 1.0 - soil.shrink
        free = isinstance(bearings, int)
        _, size = whole_tile(windows.lattice, pad, apart, tile)
        scan = scan_raster(
            windows.levels,
            windows.lattice,
            pad,
            goal,
            float(keep),
            bearings=bearings,
            heights=heights,
            land=land,
            count=CANDIDATES * spots + 5,
            apart=apart,
            tile=tile,
            map_to=None if map_for is None else map_for(windows.lattice, windows.crs, size),
            progress=progress,
        )
        if len(scan.spots) == 0:
            raise _nothing_fits(str(path), land, heights)
        found = exact_spots(
            scan, windows.lattice, windows.reading, pad, goal, float(keep),
            count=spots, heights=heights, land=land, bearing_free=free,
        )  # fmt: skip
        if not found:
            raise _nothing_fits(str(path), land, heights)
        return ScanReport(
            file=str(path),
            crs=windows.crs,
            lattice=windows.lattice,
            pad=pad,
            goal=goal,
            keep=float(keep),
            heights=heights,
            land=land,
            scan=scan,
            spots=found,
            accuracy=accuracy,
            notices=(*windows.note, *_notices(scan, windows, found[0].spot.value)),
        )


def outlines_on(windows: RasterWindows, file: str | Path) -> Outline:
    """Return the areas and points of a GeoJSON file in the axes of a raster."""
    return read_outline(file, site_crs=windows.crs or "local", crs=None if windows.crs else "site")


def _kept_clear(windows: RasterWindows, files: Sequence[str | Path], clearance: float) -> tuple[KeepOut, ...]:
    """Return the keep-outs of GeoJSON files; a pad may stand in the holes of an area."""
    kept: list[KeepOut] = []
    for file in files:
        outline = outlines_on(windows, file)
        kept += [
            KeepOut(area.name, area.rings[0], clearance, area.source, holes=area.rings[1:]) for area in outline.areas
        ]
        kept += [KeepOut.circle(m.name, (m.east, m.north), clearance, m.source) for m in outline.marks]
    return tuple(kept)


def _check_pad(pad: Pad, goal: Goal, windows: RasterWindows) -> None:
    """Refuse a pad that cannot be scanned for."""
    shape, source = PadShape.of(pad), windows.header.source
    faults = []
    if not pad.edge.retained:
        faults.append(
            Fault(
                "the pad has banks",
                "a scan counts vertical sides only: banks reach as far as the ground asks for",
                "scan with a retained edge, and give the spot to spadework plan with the banks",
                source,
            )
        )
    if goal.wall > 0:
        faults.append(
            Fault(
                f"the goal {goal.name!r} counts the height of the edge",
                "a scan makes weighted sums of soil dug, made up, left over and bought least",
                "scan for digging or balance, and give the best spots to spadework place",
                source,
            )
        )
    if goal.moved > 0:
        faults.append(
            Fault(
                f"the goal {goal.name!r} counts barrowing",
                "a scan makes weighted sums of soil dug, made up, left over and bought least",
                "scan for digging or balance, and give the best spots to spadework place",
                source,
            )
        )
    if shape.short_side < max(windows.lattice.cell):
        faults.append(
            Fault(
                f"cells of {max(windows.lattice.cell):.4g} m are larger than the pad, {shape.short_side:.4g} m wide",
                "the ground under a pad needs at least a cell across",
                "take a finer raster",
                source,
            )
        )
    cells = pad.area / windows.lattice.cell_area
    if cells > 40 * MANY_CELLS:
        faults.append(
            Fault(
                f"{cells:,.0f} cells lie under the pad",
                f"at most {40 * MANY_CELLS:,} are worked with",
                "resample the raster to larger cells first, with rio warp --res for instance",
                source,
            )
        )
    if faults:
        raise InputError(faults)


def _notices(scan: RasterScan, windows: RasterWindows, best: float) -> list[str]:
    """Return what must be said about a scan."""
    notices = []
    across = float(np.sqrt(scan.masks.area)) / max(windows.lattice.cell)
    if across < COARSE_PAD or scan.masks.fewest < COARSE_PAD**2:
        notices.append(
            f"The pad covers {scan.masks.fewest} to {scan.masks.most} cells only: what lies between them is not known."
        )
    if not COMPILED and scan.positions > PLAIN_CELLS:
        notices.append("Without numba every pose was worked out one by one, which is slow. Install numba.")
    if best <= 1e-9:
        notices.append(
            "The best spot costs nothing: the raster is dead level there. Water, roofs and filled gaps look so. "
            "Look at the place, and keep it out with --keep-out if so."
        )
    return notices


def _nothing_fits(file: str, land: RasterLand, heights: HeightLimits) -> PlacementError:
    """Return what to say when no pose keeps all limits."""
    limits: list[str] = []
    if land.boundaries:
        limits.append(f"the boundary with its setback of {land.setback:g} m")
    if land.keep_outs:
        limits.append(f"{len(land.keep_outs)} keep-outs")
    names = (("cut depth", heights.cut_depth), ("fill depth", heights.fill_depth), ("fall", heights.fall))
    limits += [f"{name} of {value:g} m at most" for name, value in names if np.isfinite(value)]
    if np.isfinite(heights.slope):
        limits.append(f"slope of {heights.slope:.1%} at most")
    limits.append("levels in every cell round the pad")
    return PlacementError(
        f"{file}: no position and bearing keeps all limits at once: {', '.join(limits)}. Relax one of them."
    )
