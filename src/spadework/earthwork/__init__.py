"""Exact cut and fill of a pad on plane triangles, and what becomes of the soil."""

from spadework.earthwork.account import Earthwork, earthwork
from spadework.earthwork.bank_outline import Banks, BankStake, banked_earthwork
from spadework.earthwork.batch import pad_levels_batch
from spadework.earthwork.edge_soil import EdgeSoil
from spadework.earthwork.edges import EdgeProfile, edge_profile, mean_slope
from spadework.earthwork.pieces import Pieces, pad_pieces
from spadework.earthwork.rule import LevelRule, PadLevels, Status
from spadework.earthwork.soil import Range, SoilAccount, soil_account
from spadework.earthwork.volumes import cut_fill, ground_range, level_for_balance, level_for_weights

__all__ = [
    "BankStake",
    "Banks",
    "Earthwork",
    "EdgeProfile",
    "EdgeSoil",
    "LevelRule",
    "PadLevels",
    "Pieces",
    "Range",
    "SoilAccount",
    "Status",
    "banked_earthwork",
    "cut_fill",
    "earthwork",
    "edge_profile",
    "ground_range",
    "level_for_balance",
    "level_for_weights",
    "mean_slope",
    "pad_levels_batch",
    "pad_pieces",
    "soil_account",
]
