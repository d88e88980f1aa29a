"""All that a plan writes: the files by name, and the folder that takes them whole or not at all."""

from __future__ import annotations

from pathlib import Path

from spadework.plan import Plan
from spadework.write.folder import check_folder, write_folder
from spadework.write.second_process import SecondProcess

__all__ = ["exchange_files", "plan_files", "write_plan"]


def plan_files(plan: Plan, second: SecondProcess | None = None) -> dict[str, bytes]:
    """Return every file of a plan.

    Parameters
    ----------
    plan : Plan
        The plan.
    second : SecondProcess, optional
        Makes the drawings in the meantime; it may have them already, but for the luck that they say nothing of.

    Returns
    -------
    dict of str to bytes
        Contents by file name. The same plan gives the same bytes.
    """
    if second is not None:
        second.hand_over(plan)
    # Tables and drawings bring large libraries with them, which a folder that is refused need not wait for.
    from spadework.write.build_sheet import build_sheet  # noqa: PLC0415
    from spadework.write.drawings import edge_drawings, yard_drawings  # noqa: PLC0415
    from spadework.write.field_sheet import field_sheet  # noqa: PLC0415
    from spadework.write.field_sheet_pdf import field_sheet_pdf  # noqa: PLC0415
    from spadework.write.plan_json import plan_bytes  # noqa: PLC0415

    files = {
        "plan.json": plan_bytes(plan),
        **_tables(plan),
        "field-sheet.html": field_sheet(plan),
        "field-sheet.pdf": field_sheet_pdf(plan),
        **({} if plan.build is None else {"build-sheet.html": build_sheet(plan)}),
        **edge_drawings(plan),
        **exchange_files(plan),
    }
    drawn = None if second is None else second.drawn()
    if drawn is None:
        drawn = yard_drawings(plan)
    return files | drawn


def _tables(plan: Plan) -> dict[str, bytes]:
    """Return the tables; for banks, where they end."""
    from spadework.write.bank_table import bank_stakes_table  # noqa: PLC0415 - as above
    from spadework.write.build_tables import cutting_table, hours_table, materials_table  # noqa: PLC0415
    from spadework.write.finish_table import finish_levels_table  # noqa: PLC0415
    from spadework.write.soil_table import soil_moves_table  # noqa: PLC0415
    from spadework.write.tables import csv_bytes, depths_table, levels_table, stakes_table  # noqa: PLC0415

    files = {
        "stakes.csv": csv_bytes(stakes_table(plan)),
        "depths.csv": csv_bytes(depths_table(plan)),
        "levels.csv": csv_bytes(levels_table(plan)),
        "materials.csv": csv_bytes(materials_table(plan)),
        "cutting-list.csv": csv_bytes(cutting_table(plan)),
        "hours.csv": csv_bytes(hours_table(plan)),
    }
    if plan.banks is not None:
        files["bank-stakes.csv"] = csv_bytes(bank_stakes_table(plan))
    if plan.haul is not None:
        files["soil-moves.csv"] = csv_bytes(soil_moves_table(plan))
    if plan.search.finish_curve is not None:
        files["finish-levels.csv"] = csv_bytes(finish_levels_table(plan))
    return files


def exchange_files(plan: Plan) -> dict[str, bytes]:
    """Return what other programs read; longitude and latitude only where the site has a place on the Earth.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    from spadework.write.depth_raster import depth_raster_bytes  # noqa: PLC0415 - as above
    from spadework.write.geojson_file import geojson_bytes  # noqa: PLC0415
    from spadework.write.gpx_file import gpx_bytes  # noqa: PLC0415
    from spadework.write.kml_file import kml_bytes  # noqa: PLC0415
    from spadework.write.landxml_file import landxml_bytes  # noqa: PLC0415
    from spadework.write.place_on_earth import has_place_on_earth  # noqa: PLC0415

    files = {"ground.xml": landxml_bytes(plan), "depth.tif": depth_raster_bytes(plan)}
    if has_place_on_earth(plan):
        files |= {
            "stakes.geojson": geojson_bytes(plan),
            "stakes.gpx": gpx_bytes(plan),
            "stakes.kml": kml_bytes(plan),
        }
    return files


def write_plan(plan: Plan, folder: Path, second: SecondProcess | None = None) -> tuple[Path, ...]:
    """Write a plan into a folder, whole or not at all.

    Parameters
    ----------
    plan : Plan
        The plan.
    folder : Path
        New, empty, or holding an earlier plan that nobody has changed.
    second : SecondProcess, optional
        Makes the drawings in the meantime.

    Returns
    -------
    tuple of Path
        What was written.

    Raises
    ------
    InputError
        When the folder holds anything else; nothing is written then.
    SpadeworkError
        When writing fails; what was there before is still in place.
    """
    check_folder(folder)  # so that a folder that is refused need not wait for the drawings
    contents = plan_files(plan, second)
    write_folder(folder, contents)
    return tuple(folder / name for name in contents)
