"""What was measured between points in plan: distances, readings of a circle and bearings, each with how sure it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from spadework.errors import Source
from spadework.readings import FloatArray, IntArray

__all__ = ["PlaceObservations", "Sight", "join_observations"]

Sight = Literal["distance", "direction", "bearing"]


@dataclass(frozen=True)
class PlaceObservations:
    """What was measured between points in plan, m rows.

    Parameters
    ----------
    kind : tuple of str, length m
        ``"distance"``: horizontal. ``"direction"``: reading of a circle, whose zero is one more unknown of its set-up.
        ``"bearing"``: clockwise from site north.
    start, end : tuple of str, length m
        Names of the points.
    value : array, shape (m,)
        [m] or [deg]
    sd : array, shape (m,)
        Standard deviation of each, in metres or degrees.
    step : array, shape (m,)
        Finest step to which each is written, in metres or degrees.
    set_up : tuple of str, length m
        Set-up that a direction belongs to; empty otherwise.
    line : array of int, shape (m,)
        Line in the file.
    file : tuple of str, length m
        Name of the file.
    """

    kind: tuple[Sight, ...]
    start: tuple[str, ...]
    end: tuple[str, ...]
    value: FloatArray
    sd: FloatArray
    step: FloatArray
    set_up: tuple[str, ...]
    line: IntArray
    file: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.kind)

    def source(self, row: int) -> Source:
        """Return where observation ``row`` was written."""
        return Source(self.file[row], int(self.line[row]))

    def without(self, row: int) -> PlaceObservations:
        """Return the others."""
        return self.take([other for other in range(len(self)) if other != row])

    def take(self, rows: Sequence[int]) -> PlaceObservations:
        """Return the observations of ``rows``, in that order."""
        return PlaceObservations(
            kind=tuple(self.kind[row] for row in rows),
            start=tuple(self.start[row] for row in rows),
            end=tuple(self.end[row] for row in rows),
            value=self.value[list(rows)],
            sd=self.sd[list(rows)],
            step=self.step[list(rows)],
            set_up=tuple(self.set_up[row] for row in rows),
            line=self.line[list(rows)],
            file=tuple(self.file[row] for row in rows),
        )

    def with_value(self, row: int, value: float) -> PlaceObservations:
        """Return the same with another value in one row."""
        values = self.value.copy()
        values[row] = value
        return replace(self, value=values)


def join_observations(parts: Sequence[PlaceObservations]) -> PlaceObservations:
    """Return several tables of observations as one, in the order given."""
    return PlaceObservations(
        kind=tuple(kind for part in parts for kind in part.kind),
        start=tuple(name for part in parts for name in part.start),
        end=tuple(name for part in parts for name in part.end),
        value=np.concatenate([part.value for part in parts]),
        sd=np.concatenate([part.sd for part in parts]),
        step=np.concatenate([part.step for part in parts]),
        set_up=tuple(name for part in parts for name in part.set_up),
        line=np.concatenate([part.line for part in parts]),
        file=tuple(file for part in parts for file in part.file),
    )
