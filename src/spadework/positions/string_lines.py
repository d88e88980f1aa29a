"""Drops below strings whose two ends are known."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from spadework.errors import Fault, InputError
from spadework.positions.places import name_key
from spadework.readings_positions import StringDrops
from spadework.shots import Shots

__all__ = ["StringLine", "reduce_string_lines"]

BEYOND = 0.1
"""So far past the end of a string a drop may still be taped. [m]"""


@dataclass(frozen=True, slots=True)
class StringLine:
    """A string stretched between two pegs.

    Parameters
    ----------
    start, end : tuple of float
        ``east, north`` of the pegs; distances along count from the start. [m]
    start_level, end_level : float
        Level of the string at each peg; the same where it was set level. [m]
    """

    start: tuple[float, float]
    end: tuple[float, float]
    start_level: float
    end_level: float

    @property
    def length(self) -> float:
        """Horizontal distance between the pegs. [m]"""
        return math.dist(self.start, self.end)


def reduce_string_lines(drops: StringDrops, strings: Mapping[str, StringLine]) -> Shots:
    """Return the shots below some strings: ``level = level of the string there - drop``.

    Parameters
    ----------
    drops : StringDrops
        Distances along and drops.
    strings : mapping of str to StringLine
        By `name_key`.

    Returns
    -------
    Shots
        In the order of the rows.

    Raises
    ------
    InputError
        When a string is not known, has no length, or ends before a drop: all of them at once.
    """
    faults: list[Fault] = []
    east, north, level = (np.full(len(drops), np.nan) for _ in range(3))
    missing: set[str] = set()
    for row, name in enumerate(drops.string):
        string = strings.get(name_key(name))
        if string is None:
            if name_key(name) not in missing:
                missing.add(name_key(name))
                rule = "a string is placed by its two ends"
                remedy = f'say where it runs: strings = {{ "{name}" = {{ from = [0, 0], to = [10, 0] }} }}'
                faults.append(Fault(f"nothing says where the string {name!r} runs", rule, remedy, drops.source(row)))
            continue
        length, along = string.length, float(drops.along[row])
        if length < 0.01:
            rule = "a string runs from one peg to another"
            faults.append(Fault(f"both ends of the string {name!r} lie in one place", rule, "", drops.source(row)))
            continue
        if not -BEYOND <= along <= length + BEYOND:
            what = f"the drop at {along:.2f} m lies off the string {name!r}, which is {length:.2f} m long"
            remedy = "correct the distance, or the ends of the string"
            faults.append(Fault(what, "distances count from the first end of a string", remedy, drops.source(row)))
            continue
        share = along / length
        east[row] = string.start[0] + share * (string.end[0] - string.start[0])
        north[row] = string.start[1] + share * (string.end[1] - string.start[1])
        level[row] = string.start_level + share * (string.end_level - string.start_level) - drops.drop[row]
    if faults:
        raise InputError(faults)
    return Shots(drops.point, east, north, level, drops.note, drops.line, (drops.file,) * len(drops))
