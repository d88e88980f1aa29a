"""Reduction of levels: set-ups, height of instrument and rise and fall, closure, adjustment, what looks wrong."""

from __future__ import annotations

from spadework.levels.book import reduce_level_book
from spadework.levels.drops import grid_label, reduce_drop_grid
from spadework.levels.fit import NetFit, Precision, instrument_precision
from spadework.levels.net import AdjustedNet, LevelLines, adjust_level_net
from spadework.levels.pegs import PegTest, correct_sights, reciprocal_rise
from spadework.levels.results import Adjustment, ArithmeticCheck, ReducedLevels, Run
from spadework.levels.rod_range import ROD_LENGTH
from spadework.levels.rods import level_book_from_rods, reduce_rod_list
from spadework.levels.tolerance import DEFAULT_RULE, Tolerance, tolerance_names, tolerance_rule

__all__ = [
    "DEFAULT_RULE",
    "ROD_LENGTH",
    "AdjustedNet",
    "Adjustment",
    "ArithmeticCheck",
    "LevelLines",
    "NetFit",
    "PegTest",
    "Precision",
    "ReducedLevels",
    "Run",
    "Tolerance",
    "adjust_level_net",
    "correct_sights",
    "grid_label",
    "instrument_precision",
    "level_book_from_rods",
    "reciprocal_rise",
    "reduce_drop_grid",
    "reduce_level_book",
    "reduce_rod_list",
    "tolerance_names",
    "tolerance_rule",
]
