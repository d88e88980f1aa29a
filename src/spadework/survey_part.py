"""One file of a survey: its readings, and what has been made of them so far."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from spadework.levels import ReducedLevels
from spadework.levels.net_book import ReducedNet
from spadework.positions.observations import PlaceObservations
from spadework.readings import IntArray, Reading
from spadework.shots import Shots
from spadework.site_schema import ReadingsTable

__all__ = ["SurveyPart"]


@dataclass(frozen=True)
class SurveyPart:
    """One file of readings, reduced.

    Parameters
    ----------
    file : str
        As the site file calls it.
    shots : Shots, optional
        Points with positions; ``None`` for a level book, which has none.
    levels : ReducedLevels, optional
        Its level book, where it has one.
    line : (str, float), optional
        For a drop grid: what the level line is called, and its level. [m]
    sentences, notices, overrides : tuple of str
        What it was read as; what the user should know; rules that were set aside.
    table : ReadingsTable
        What the site file says of it.
    reading, pending : Reading, optional
        Its readings; and those that wait for points of other files.
    on_earth : bool
        Whether its positions are in the system of the site, not in axes of its own.
    many : bool
        Whether its points are those of a cloud, which nobody calls by name.
    triangles : array of int, shape (t, 3), optional
        Rows of the corners of a surface that somebody else triangulated.
    sights : PlaceObservations, optional
        What it measured in plan between points, for the net of the whole site.
    sights_words : str
        What those were taken for: ``tape, assumed``.
    level_net : ReducedNet, optional
        Its levelled lines, adjusted, where it holds such.
    """

    file: str
    shots: Shots | None = None
    levels: ReducedLevels | None = None
    line: tuple[str, float] | None = None
    sentences: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    overrides: tuple[str, ...] = ()
    table: ReadingsTable = field(default_factory=lambda: ReadingsTable(file="-"))
    reading: Reading | None = None
    pending: Reading | None = None
    on_earth: bool = False
    many: bool = False
    triangles: IntArray | None = None
    sights: PlaceObservations | None = None
    sights_words: str = ""
    level_net: ReducedNet | None = None

    @property
    def named_levels(self) -> list[tuple[str, float, float]]:
        """Every level that it gives by name, with its standard deviation; the first of a name counts. [m]"""
        found: list[tuple[str, float, float]] = []
        if self.levels is not None:
            levels = self.levels
            spread = np.full(len(levels.book), np.nan) if levels.level_sd is None else levels.level_sd
            rows = zip(levels.book.point, levels.level.tolist(), spread.tolist(), strict=True)
            found += [(name, level, sd) for name, level, sd in rows if math.isfinite(level)]
        if self.level_net is not None:
            net = self.level_net.net
            found += zip(net.point, net.level.tolist(), self.level_net.level_sd.tolist(), strict=True)
        return found

    @property
    def gives_places(self) -> bool:
        """Whether it says where points are, or will once it is placed."""
        if self.pending is not None or self.table.baseline is not None or self.table.grid is not None:
            return True
        return self.shots is not None and bool(np.isfinite(self.shots.east + self.shots.north).any())
