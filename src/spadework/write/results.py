"""All that a plan writes: the files by name, and the folder that takes them whole or not at all."""

from __future__ import annotations

from pathlib import Path

from spadework.plan import Plan
from spadework.write.folder import check_folder, write_folder
from spadework.write.second_process import SecondProcess

__all__ = ["drawn_beside", "get_ready", "plan_files", "write_plan"]


def plan_files(plan: Plan, second: SecondProcess | None = None) -> dict[str, bytes]:
    """Return every file of a plan.

    Parameters
    ----------
    plan : Plan
        The plan.
    second : SecondProcess, optional
        Draws half of them in the meantime.

    Returns
    -------
    dict of str to bytes
        Contents by file name. The same plan gives the same bytes.
    """
    # Tables and drawings bring large libraries with them, which a folder that is refused need not wait for.
    from spadework.write.build_tables import cutting_table, hours_table, materials_table  # noqa: PLC0415
    from spadework.write.canvas import png_bytes, svg_bytes  # noqa: PLC0415
    from spadework.write.drawing import yard_page  # noqa: PLC0415
    from spadework.write.field_sheet import field_sheet  # noqa: PLC0415
    from spadework.write.plan_json import plan_bytes  # noqa: PLC0415
    from spadework.write.tables import csv_bytes, depths_table, levels_table, stakes_table  # noqa: PLC0415

    if second is not None:
        second.hand_over(plan)
    page = yard_page(plan)
    files = {
        "plan.json": plan_bytes(plan),
        "stakes.csv": csv_bytes(stakes_table(plan)),
        "depths.csv": csv_bytes(depths_table(plan)),
        "levels.csv": csv_bytes(levels_table(plan)),
        "materials.csv": csv_bytes(materials_table(plan)),
        "cutting-list.csv": csv_bytes(cutting_table(plan)),
        "hours.csv": csv_bytes(hours_table(plan)),
        "yard.svg": svg_bytes(page, "yard"),
        "yard.png": png_bytes(page),
        "field-sheet.html": field_sheet(plan),
        **_exchange_files(plan),
        **_build_files(plan),
        **_soil_files(plan),
        **_ground_files(plan),
    }
    beside = None if second is None else second.drawn()
    return files | (drawn_beside(plan) if beside is None else beside)


def drawn_beside(plan: Plan) -> dict[str, bytes]:
    """Return about half of the files of a plan, counted by the time that they take.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    return {**_field_files(plan), **_spot_files(plan)}


def get_ready() -> None:
    """Import what `drawn_beside` needs, before there is a plan."""
    from spadework.write import (  # noqa: F401, PLC0415 - for what importing them brings
        depth_map,
        field_sheet_pdf,
        section_drawing,
        spots_picture,
    )


def _field_files(plan: Plan) -> dict[str, bytes]:
    """Return the field sheet for paper, the sections and the depth map."""
    from spadework.write.canvas import png_bytes, svg_bytes  # noqa: PLC0415
    from spadework.write.depth_map import depth_page  # noqa: PLC0415 - as above
    from spadework.write.field_sheet_pdf import field_sheet_pdf  # noqa: PLC0415
    from spadework.write.section_drawing import sections_page  # noqa: PLC0415

    sections, depths = sections_page(plan), depth_page(plan)
    return {
        "field-sheet.pdf": field_sheet_pdf(plan),
        "sections.svg": svg_bytes(sections, "sections"),
        "sections.png": png_bytes(sections),
        "depth-map.svg": svg_bytes(depths, "depth-map"),
        "depth-map.png": png_bytes(depths),
    }


def _ground_files(plan: Plan) -> dict[str, bytes]:
    """Return the ground with how sure it is and the next shots, and the same in perspective with the pad."""
    from spadework.write.canvas import svg_bytes  # noqa: PLC0415 - as above
    from spadework.write.ground_picture import GroundPicture, ground_page  # noqa: PLC0415
    from spadework.write.perspective import perspective_page  # noqa: PLC0415

    picture = GroundPicture.of_plan(plan)
    return {
        "ground.svg": svg_bytes(ground_page(picture), "ground"),
        "perspective.svg": svg_bytes(perspective_page(picture), "perspective"),
    }


def _exchange_files(plan: Plan) -> dict[str, bytes]:
    """Return what other programs read; longitude and latitude only where the site has a place on the Earth."""
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


def _spot_files(plan: Plan) -> dict[str, bytes]:
    """Return what every spot costs, and what the chosen one costs at other finish levels and with other numbers."""
    from spadework.write.finish_table import finish_levels_table  # noqa: PLC0415 - as above
    from spadework.write.spots_picture import spots_files  # noqa: PLC0415
    from spadework.write.tables import csv_bytes  # noqa: PLC0415
    from spadework.write.what_if_picture import what_if_files  # noqa: PLC0415

    files = {} if plan.search.spot_map is None else spots_files(plan, plan.search)
    files |= what_if_files(plan)
    if plan.search.finish_curve is not None:
        files["finish-levels.csv"] = csv_bytes(finish_levels_table(plan))
    return files


def _build_files(plan: Plan) -> dict[str, bytes]:
    """Return the build sheet, and the drawings of the timber edge and of its cutting list where there is one."""
    from spadework.write.build_sheet import build_sheet  # noqa: PLC0415 - as above
    from spadework.write.canvas import png_bytes, svg_bytes  # noqa: PLC0415
    from spadework.write.cutting_drawing import cutting_page  # noqa: PLC0415
    from spadework.write.edge_drawing import edge_page  # noqa: PLC0415
    from spadework.write.foot import foot_parts  # noqa: PLC0415

    if plan.build is None:
        return {}
    sheet = {"build-sheet.html": build_sheet(plan)}
    if plan.build.edge is None or plan.build.cutting is None:
        return sheet
    title = f"{plan.name or 'Plan'}, {plan.date}"
    foot = foot_parts(plan)
    page = edge_page(plan.build.edge, formation=plan.earthwork.formation, title=title, unit=plan.units, foot=foot)
    cutting = cutting_page(plan.build.cutting, title=title, unit=plan.units, foot=foot)
    return {
        **sheet,
        "edge.svg": svg_bytes(page, "edge"),
        "edge.png": png_bytes(page),
        "cutting-list.svg": svg_bytes(cutting, "cutting-list"),
    }


def _soil_files(plan: Plan) -> dict[str, bytes]:
    """Return which soil goes where, as a table and a drawing; for banks, where they end."""
    from spadework.write.bank_table import bank_stakes_table  # noqa: PLC0415 - as above
    from spadework.write.canvas import svg_bytes  # noqa: PLC0415
    from spadework.write.soil_drawing import soil_page  # noqa: PLC0415
    from spadework.write.soil_table import soil_moves_table  # noqa: PLC0415
    from spadework.write.tables import csv_bytes  # noqa: PLC0415

    files = {} if plan.banks is None else {"bank-stakes.csv": csv_bytes(bank_stakes_table(plan))}
    if plan.haul is None:
        return files
    return files | {
        "soil-moves.csv": csv_bytes(soil_moves_table(plan)),
        "soil-moves.svg": svg_bytes(soil_page(plan), "soil"),
    }


def write_plan(plan: Plan, folder: Path, second: SecondProcess | None = None) -> tuple[Path, ...]:
    """Write a plan into a folder, whole or not at all.

    Parameters
    ----------
    plan : Plan
        The plan.
    folder : Path
        New, empty, or holding an earlier plan that nobody has changed.
    second : SecondProcess, optional
        Draws half of the files in the meantime.

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
