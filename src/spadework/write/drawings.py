"""The drawings of a plan by file name: of the yard, for a second process, and of the edge, for the first.

None of the yard says anything of luck, so that they can be drawn before it is weighed.
"""

from __future__ import annotations

from spadework.plan import Plan
from spadework.write.canvas import png_bytes, svg_bytes
from spadework.write.cutting_drawing import cutting_page
from spadework.write.depth_map import depth_page
from spadework.write.drawing import yard_page
from spadework.write.edge_drawing import edge_page
from spadework.write.foot import foot_parts
from spadework.write.ground_picture import GroundPicture, ground_page
from spadework.write.perspective import perspective_page
from spadework.write.section_drawing import sections_page
from spadework.write.soil_drawing import soil_page
from spadework.write.spots_picture import spots_files
from spadework.write.what_if_picture import what_if_files

__all__ = ["edge_drawings", "spot_drawings", "yard_drawings"]


def yard_drawings(plan: Plan) -> dict[str, bytes]:
    """Return every drawing of the yard and what is done in it; the luck of the plan may be missing.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict of str to bytes
        Contents by file name. The same plan gives the same bytes.
    """
    yard, sections, depths = yard_page(plan), sections_page(plan), depth_page(plan)
    ground = GroundPicture.of_plan(plan)
    return {
        "yard.svg": svg_bytes(yard, "yard"),
        "yard.png": png_bytes(yard),
        "sections.svg": svg_bytes(sections, "sections"),
        "sections.png": png_bytes(sections),
        "depth-map.svg": svg_bytes(depths, "depth-map"),
        "depth-map.png": png_bytes(depths),
        "ground.svg": svg_bytes(ground_page(ground), "ground"),
        "perspective.svg": svg_bytes(perspective_page(ground), "perspective"),
        **({} if plan.haul is None else {"soil-moves.svg": svg_bytes(soil_page(plan), "soil")}),
        **spot_drawings(plan),
    }


def edge_drawings(plan: Plan) -> dict[str, bytes]:
    """Return the timber edge and its cutting list, where there is one.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    if plan.build is None or plan.build.edge is None or plan.build.cutting is None:
        return {}
    title = f"{plan.name or 'Plan'}, {plan.date}"
    foot = foot_parts(plan)
    page = edge_page(plan.build.edge, formation=plan.earthwork.formation, title=title, unit=plan.units, foot=foot)
    cutting = cutting_page(plan.build.cutting, title=title, unit=plan.units, foot=foot)
    return {
        "edge.svg": svg_bytes(page, "edge"),
        "edge.png": png_bytes(page),
        "cutting-list.svg": svg_bytes(cutting, "cutting-list"),
    }


def spot_drawings(plan: Plan) -> dict[str, bytes]:
    """Return what every spot costs, also as a raster, and what the chosen one costs if a number is another.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    every = {} if plan.search.spot_map is None else spots_files(plan, plan.search)
    return every | what_if_files(plan)
