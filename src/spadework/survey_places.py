"""Where the named places of a site are: shots, points of an outline file, or positions given in the site file."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Sequence

import numpy as np

from spadework.errors import Fault, Source
from spadework.read.outline import Mark
from spadework.readings import FloatArray
from spadework.shots import Shots

__all__ = ["Places"]

SAME_PLACE = 0.02
"""Two shots of one name closer than this are the same place, taped to the centimetre twice. [m]"""


class Places:
    """Looks up positions by name, and collects a fault for each that cannot be had.

    Parameters
    ----------
    shots : Shots, optional
        Shots of the survey.
    marks : sequence of Mark
        Points of an outline file.

    Attributes
    ----------
    faults : list of Fault
        What could not be found so far.
    """

    def __init__(self, shots: Shots | None, marks: Sequence[Mark] = ()) -> None:
        self.faults: list[Fault] = []
        self.marks = tuple(marks)
        self._at: dict[str, list[tuple[str, float, float]]] = {}
        if shots is not None:
            for name, east, north in zip(shots.point, shots.east.tolist(), shots.north.tolist(), strict=True):
                self._at.setdefault(name.strip().casefold(), []).append((name, east, north))
        for mark in marks:
            self._at.setdefault(mark.name.strip().casefold(), []).append((mark.name, mark.east, mark.north))

    def look(self, name: str) -> tuple[float, float] | None:
        """Return east and north of a named place, or ``None``, without a fault, where there is not exactly one. [m]"""
        found = [entry for entry in self._at.get(name.strip().casefold(), []) if not math.isnan(entry[1] + entry[2])]
        if not found or any(math.dist(entry[1:], found[0][1:]) > SAME_PLACE for entry in found):
            return None
        return found[0][1:]

    def find(self, place: str | Sequence[float], source: Source) -> tuple[float, float]:
        """Return east and north of a place; NaN, and a fault more, where it cannot be had. [m]

        Parameters
        ----------
        place : str or sequence of two floats
            A name, or a position that is returned as it is.
        source : Source
            Where the site file names it.
        """
        if not isinstance(place, str):
            east, north = place
            return float(east), float(north)
        found = [entry for entry in self._at.get(place.strip().casefold(), []) if not math.isnan(entry[1] + entry[2])]
        if not found:
            self.faults.append(self._missing(place, source))
            return math.nan, math.nan
        _, east, north = found[0]
        if any(math.hypot(e - east, n - north) > SAME_PLACE for _, e, n in found[1:]):
            self.faults.append(
                Fault(
                    f"{len(found)} shots are called {place!r} and stand at different places",
                    "a name that the site file uses belongs to one place",
                    "Give them different names",
                    source,
                )
            )
        return east, north

    def ring(self, places: Iterable[str | Sequence[float]], source: Source) -> FloatArray:
        """Return the positions of several places in order, shape (n, 2). [m]"""
        return np.array([self.find(place, source) for place in places], dtype=np.float64).reshape(-1, 2)

    def _missing(self, name: str, source: Source) -> Fault:
        """Return the fault of a name that no shot has, or that has no position."""
        if name.strip().casefold() in self._at:
            return Fault(
                f"{name!r} has a level but no position",
                "a place in the plan needs east and north",
                "Give its position in the readings, or write the position here: [east, north]",
                source,
            )
        names = sorted({entries[0][0] for entries in self._at.values()})
        near = difflib.get_close_matches(name.casefold(), [other.casefold() for other in names], n=1)
        if near:
            remedy = f"Did you mean {next(other for other in names if other.casefold() == near[0])!r}?"
        else:
            remedy = f"The survey has: {', '.join(names[:12])}{', ...' if len(names) > 12 else ''}" if names else ""
        return Fault(f"no shot is called {name!r}", "a place is named as the readings name it", remedy, source)
