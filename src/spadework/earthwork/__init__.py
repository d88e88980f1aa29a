"""Exact cut and fill of a pad on plane triangles, and what becomes of the soil."""

from spadework.earthwork.batch import pad_levels_batch
from spadework.earthwork.pieces import Pieces, pad_pieces
from spadework.earthwork.rule import LevelRule, PadLevels, Status

__all__ = ["LevelRule", "PadLevels", "Pieces", "Status", "pad_levels_batch", "pad_pieces"]
