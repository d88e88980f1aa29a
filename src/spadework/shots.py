"""Shots: points with a position and a level, and how sure we are of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spadework.errors import Source
from spadework.readings import FloatArray, IntArray

__all__ = ["Shots", "join_shots"]


@dataclass(frozen=True)
class Shots:
    """Points of the ground in site axes.

    Parameters
    ----------
    point : tuple of str, length n
        Names, unique where a name is used elsewhere (boundary, references, keep-outs).
    east, north : array, shape (n,)
        Position. [m]
    level : array, shape (n,)
        Reduced level; NaN for a point that only marks a place. [m]
    note : tuple of str, length n
        Remarks.
    line : array of int, shape (n,)
        Line in the file.
    file : tuple of str, length n
        File of each shot.
    level_sd, position_sd : array, shape (n,), optional
        Standard deviation of level and of each coordinate; NaN where not known. [m]
    """

    point: tuple[str, ...]
    east: FloatArray
    north: FloatArray
    level: FloatArray
    note: tuple[str, ...]
    line: IntArray
    file: tuple[str, ...]
    level_sd: FloatArray | None = None
    position_sd: FloatArray | None = None

    def __len__(self) -> int:
        return len(self.point)

    def source(self, row: int) -> Source:
        """Return where shot ``row`` was written."""
        return Source(self.file[row], int(self.line[row]))

    def rows(self, name: str) -> list[int]:
        """Return the rows of the shots called ``name``; names compare without regard to case."""
        wanted = name.strip().casefold()
        return [row for row, point in enumerate(self.point) if point.casefold() == wanted]

    def take(self, rows: Sequence[int] | IntArray) -> Shots:
        """Return the shots of ``rows``, in that order."""
        index = np.asarray(rows, dtype=np.int64)
        return Shots(
            point=tuple(self.point[i] for i in index),
            east=self.east[index],
            north=self.north[index],
            level=self.level[index],
            note=tuple(self.note[i] for i in index),
            line=self.line[index],
            file=tuple(self.file[i] for i in index),
            level_sd=None if self.level_sd is None else self.level_sd[index],
            position_sd=None if self.position_sd is None else self.position_sd[index],
        )


def join_shots(parts: Sequence[Shots]) -> Shots:
    """Return the shots of several files as one table, in the order given.

    Parameters
    ----------
    parts : sequence of Shots
        At least one.

    Returns
    -------
    Shots
        All of them. A standard deviation that only some parts know is NaN for the others.
    """

    def joined_sd(name: str) -> FloatArray | None:
        columns = [getattr(part, name) for part in parts]
        if all(column is None for column in columns):
            return None
        filled = [
            np.full(len(part), np.nan) if column is None else column
            for part, column in zip(parts, columns, strict=True)
        ]
        return np.concatenate(filled)

    return Shots(
        point=tuple(name for part in parts for name in part.point),
        east=np.concatenate([part.east for part in parts]),
        north=np.concatenate([part.north for part in parts]),
        level=np.concatenate([part.level for part in parts]),
        note=tuple(note for part in parts for note in part.note),
        line=np.concatenate([part.line for part in parts]),
        file=tuple(file for part in parts for file in part.file),
        level_sd=joined_sd("level_sd"),
        position_sd=joined_sd("position_sd"),
    )
