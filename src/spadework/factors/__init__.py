"""Tables of factors that other people measured or agreed on, each row with its range and its source."""

from __future__ import annotations

from spadework.factors._rates import NORM_DAY, USUAL_HAUL, dig_row, haul_row
from spadework.factors._rows import (
    DEFAULT_BARROW,
    DEFAULT_TOLERANCE,
    TABLES,
    FactorRow,
    container_volume,
    density,
    factor_row,
    load_table,
)
from spadework.factors._soils import SoilFactors, soil_factors, soil_kinds

__all__ = [
    "DEFAULT_BARROW",
    "DEFAULT_TOLERANCE",
    "NORM_DAY",
    "TABLES",
    "USUAL_HAUL",
    "FactorRow",
    "SoilFactors",
    "container_volume",
    "density",
    "dig_row",
    "factor_row",
    "haul_row",
    "load_table",
    "soil_factors",
    "soil_kinds",
]
