"""Spadework: from a few level readings to a level base.

The public names stand here in the order of the work. Each is imported when it is first asked for, so that a program
which only reads a level book does not wait for the rest.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from spadework.earthwork import Earthwork, soil_account
    from spadework.errors import InputError, SpadeworkError, SurveyError
    from spadework.factors import soil_factors
    from spadework.ground import Ground, raster_ground, triangulate_shots
    from spadework.levels import reduce_drop_grid, reduce_level_book, reduce_rod_list, tolerance_rule
    from spadework.pad import BuildUp, Layer, Pad, Placement
    from spadework.placement import KeepOut, Limits, find_placement
    from spadework.plan import Plan, make_plan
    from spadework.read import read_file, read_text
    from spadework.shots import Shots
    from spadework.site import load_site
    from spadework.stakeout import stake_out
    from spadework.survey import load_survey, plan_inputs
    from spadework.write import write_plan

__version__ = "0.1.0"

_HOMES = {
    "load_site": "spadework.site",
    "load_survey": "spadework.survey",
    "plan_inputs": "spadework.survey",
    "make_plan": "spadework.plan",
    "Plan": "spadework.plan",
    "write_plan": "spadework.write",
    "read_file": "spadework.read",
    "read_text": "spadework.read",
    "tolerance_rule": "spadework.levels",
    "reduce_level_book": "spadework.levels",
    "reduce_rod_list": "spadework.levels",
    "reduce_drop_grid": "spadework.levels",
    "Shots": "spadework.shots",
    "Ground": "spadework.ground",
    "triangulate_shots": "spadework.ground",
    "raster_ground": "spadework.ground",
    "Pad": "spadework.pad",
    "BuildUp": "spadework.pad",
    "Layer": "spadework.pad",
    "Placement": "spadework.pad",
    "Limits": "spadework.placement",
    "KeepOut": "spadework.placement",
    "find_placement": "spadework.placement",
    "Earthwork": "spadework.earthwork",
    "soil_factors": "spadework.factors",
    "soil_account": "spadework.earthwork",
    "stake_out": "spadework.stakeout",
    "SpadeworkError": "spadework.errors",
    "InputError": "spadework.errors",
    "SurveyError": "spadework.errors",
}

__all__ = [  # noqa: RUF022 - in the order of the work
    "load_site",
    "load_survey",
    "plan_inputs",
    "make_plan",
    "Plan",
    "write_plan",
    "read_file",
    "read_text",
    "tolerance_rule",
    "reduce_level_book",
    "reduce_rod_list",
    "reduce_drop_grid",
    "Shots",
    "Ground",
    "triangulate_shots",
    "raster_ground",
    "Pad",
    "BuildUp",
    "Layer",
    "Placement",
    "Limits",
    "KeepOut",
    "find_placement",
    "Earthwork",
    "soil_factors",
    "soil_account",
    "stake_out",
    "SpadeworkError",
    "InputError",
    "SurveyError",
]


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for."""
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(importlib.import_module(home), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    """Return the public names."""
    return sorted(__all__)
