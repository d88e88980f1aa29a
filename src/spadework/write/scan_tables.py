"""``scan.json``, ``spots.csv`` and ``spots.geojson``: what a scan of a raster found."""

from __future__ import annotations

import json
import math
from typing import Any

import pandas as pd
from pyproj import Transformer

from spadework.placement.raster_report import ScanReport
from spadework.placement.raster_spots import RasterSpot
from spadework.units import LengthUnit, to_length_unit, to_volume_unit, unit_label, volume_label
from spadework.write.tables import csv_bytes

__all__ = ["scan_content", "scan_json_bytes", "spots_csv_bytes", "spots_geojson_bytes"]


def scan_content(report: ScanReport) -> dict[str, Any]:
    """Return a scan for programs: lengths in metres, volumes in cubic metres, bearings in degrees.

    Parameters
    ----------
    report : ScanReport
        The scan. The time that it took is left out, so that the same raster gives the same.
    """
    scan, heights = report.scan, report.heights
    limits = {name: getattr(heights, name) for name in ("cut_depth", "fill_depth", "fall", "slope")}
    return {
        "raster": report.file,
        "crs": report.crs,
        "unit": "m",
        "rows": report.lattice.rows,
        "columns": report.lattice.columns,
        "cell": list(report.lattice.cell),
        "goal": report.goal.name,
        "keep": report.keep,
        "pad": {"outline": report.pad.outline.tolist(), "area": report.pad.area},
        "cells_under_pad": [scan.masks.fewest, scan.masks.most],
        "bearings": scan.masks.bearings.tolist(),
        "limits": {name: value if math.isfinite(value) else None for name, value in limits.items()},
        "positions": scan.positions,
        "candidates": scan.candidates,
        "worked_out": scan.worked_out,
        "numbers_read": scan.numbers_read,
        "apart": scan.apart,
        "least_over_cells": float(scan.spots.value[0]),
        "accuracy": report.accuracy,
        "noise_floor": report.floor if math.isfinite(report.floor) else None,
        "spots": [_spot(rank, spot) for rank, spot in enumerate(report.spots, 1)],
        "notices": list(report.notices),
    }


def scan_json_bytes(report: ScanReport) -> bytes:
    """Return ``scan.json``."""
    text = json.dumps(scan_content(report), ensure_ascii=False, allow_nan=False, indent=1)
    return (text + "\n").encode("utf-8")


def _spot(rank: int, found: RasterSpot) -> dict[str, Any]:
    spot, at = found.spot, found.spot.placement
    return {
        "rank": rank,
        "east": at.east,
        "north": at.north,
        "bearing": at.bearing,
        "finish": at.finish,
        "formation": spot.formation,
        "value": spot.value,
        "cut": spot.cut,
        "fill": spot.fill,
        "over": spot.over,
        "short": spot.short,
        "ground_low": spot.ground_low,
        "ground_high": spot.ground_high,
        "cell_row": found.row,
        "cell_column": found.column,
        "cell_bearing": found.bearing,
        "value_over_cells": found.cells_value,
        "value_at_cell": found.centre_value if math.isfinite(found.centre_value) else None,
    }


def spots_csv_bytes(report: ScanReport, unit: LengthUnit) -> bytes:
    """Return ``spots.csv`` in the user's unit.

    Parameters
    ----------
    report : ScanReport
        The scan.
    unit : LengthUnit
        The user's unit.
    """
    feet = unit is not LengthUnit.METRE
    length, volume = ("ft" if feet else unit_label(unit)), volume_label(unit)
    rows = []
    for rank, found in enumerate(report.spots, 1):
        spot, at = found.spot, found.spot.placement
        rows.append(
            {
                "spot": rank,
                f"east [{length}]": _rounded(to_length_unit(at.east, unit), 3),
                f"north [{length}]": _rounded(to_length_unit(at.north, unit), 3),
                "bearing [deg]": _rounded(at.bearing, 2),
                f"finish [{length}]": _rounded(to_length_unit(at.finish, unit), 3),
                f"formation [{length}]": _rounded(to_length_unit(spot.formation, unit), 3),
                f"cut [{volume}]": _rounded(to_volume_unit(spot.cut, unit), 4),
                f"fill [{volume}]": _rounded(to_volume_unit(spot.fill, unit), 4),
                f"{report.goal.name} [{volume}]": _rounded(to_volume_unit(spot.value, unit), 4),
                f"{report.goal.name} over cells [{volume}]": _rounded(to_volume_unit(found.cells_value, unit), 4),
            }
        )
    return csv_bytes(pd.DataFrame(rows))


def spots_geojson_bytes(report: ScanReport) -> bytes:
    """Return ``spots.geojson``: each pad as a polygon of WGS 84 longitude and latitude (RFC 7946).

    Parameters
    ----------
    report : ScanReport
        A scan of a raster with a coordinate reference system.
    """
    transformer = Transformer.from_crs(report.crs, "OGC:CRS84", always_xy=True)
    features = []
    for rank, found in enumerate(report.spots, 1):
        corners = found.spot.placement.corners(report.pad)[::-1]  # they run clockwise
        longitude, latitude = transformer.transform(*corners.T)
        ring = [[round(x, 9), round(y, 9)] for x, y in zip(longitude.tolist(), latitude.tolist(), strict=True)]
        features.append(
            {
                "type": "Feature",
                "geometry": {"type": "Polygon", "coordinates": [[*ring, ring[0]]]},
                "properties": {"name": f"spot {rank}", "role": "pad", **_spot(rank, found)},
            }
        )
    document = {
        "type": "FeatureCollection",
        "name": f"spots on {report.file}",
        "description": "Lengths and levels in the properties are metres, in the raster's own projection.",
        "features": features,
    }
    return (json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n").encode("utf-8")


def _rounded(value: float, digits: int) -> float:
    return round(float(value), digits)
