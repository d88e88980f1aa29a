"""The files of a scan of a raster, by name."""

from __future__ import annotations

from spadework.placement.raster_report import ScanReport
from spadework.units import LengthUnit

__all__ = ["scan_files"]


def scan_files(report: ScanReport, unit: LengthUnit) -> dict[str, bytes]:
    """Return every file of a scan but its map; ``spots.geojson`` only where the raster has a place on the Earth.

    Parameters
    ----------
    report : ScanReport
        The scan.
    unit : LengthUnit
        The user's unit, for the table and the picture.
    """
    from spadework.write.scan_picture import scan_png_bytes  # noqa: PLC0415 -- large libraries
    from spadework.write.scan_tables import scan_json_bytes, spots_csv_bytes, spots_geojson_bytes  # noqa: PLC0415

    files = {
        "scan.json": scan_json_bytes(report),
        "spots.csv": spots_csv_bytes(report, unit),
        "spots.png": scan_png_bytes(report, unit),
    }
    if report.crs:
        files["spots.geojson"] = spots_geojson_bytes(report)
    return files
