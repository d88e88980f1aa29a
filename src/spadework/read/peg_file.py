"""A file of the four readings of a two-peg test: set-up, peg, reading, distance."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.levels.pegs import PegTest
from spadework.read.arrange import arrange
from spadework.read.recognise import find_headings
from spadework.read.rod_list import setups
from spadework.read.table import raw_table
from spadework.read.text import open_text
from spadework.read.wires import wire_columns
from spadework.units import LengthUnit

__all__ = ["read_peg_test"]

STADIA = 100.0
FORM = "it has four rows under setup, peg, rod and distance: both pegs read from two set-ups"


def read_peg_test(path: str | Path, *, units: LengthUnit | None = None, name: str | None = None) -> PegTest:
    """Return the two-peg test that a file holds.

    Parameters
    ----------
    path : str or Path
        A table with the columns set-up, peg (or point), rod and distance; or upper, middle and lower wire, which give
        both the reading and the distance.
    units : LengthUnit, optional
        Unit of plain numbers where the file does not say.
    name : str, optional
        Name to be said in messages.

    Returns
    -------
    PegTest
        The set-up whose two sights are the more alike is its first one.

    Raises
    ------
    InputError
        When the file is no such table: every fault at once.
    """
    table = raw_table(open_text(path, name=name))
    label = table.file
    headings = find_headings(table)
    if headings is None:
        raise InputError(Fault("the peg test has no headings", FORM, "name its columns", Source(label)))
    columns, _ = arrange(table, headings, "peg-test", units)
    wires = {"upper", "lower"} <= columns.columns.keys()
    missing = [
        meaning
        for meaning in ("setup", "point", *(() if wires else ("rod", "distance")))
        if meaning not in columns.columns
    ]
    if missing:
        what = f"the peg test has no column {' or '.join(missing)} (headings: {headings.written})"
        raise InputError(Fault(what, FORM, "name its columns", table.source(headings.row)))
    rod, distance = columns.lengths("rod"), columns.lengths("distance")
    if wires:
        mean, interval = wire_columns(columns)
        rod = np.where(np.isfinite(rod), rod, mean)
        distance = np.where(np.isfinite(distance), distance, STADIA * interval)
    standing, pegs = setups(columns), columns.texts("point")
    for row in range(len(columns)):
        for meaning, values in (("rod", rod), ("distance", distance)):
            if not values[row] >= 0 and not columns.faults:
                what = f"the sight on {pegs[row]} has no {'reading' if meaning == 'rod' else 'distance'}"
                columns.fault(row, meaning, what, "each sight has a reading and a distance above 0", "fill it in")
    columns.raise_faults()
    stands, names = tuple(dict.fromkeys(standing)), tuple(dict.fromkeys(pegs))
    at = {(stand, peg): row for row, (stand, peg) in enumerate(zip(standing, pegs, strict=True))}
    if len(columns) != 4 or len(stands) != 2 or len(names) != 2 or len(at) != 4:
        what = f"the peg test has {len(columns)} rows, {len(stands)} set-ups and {len(names)} pegs"
        raise InputError(Fault(what, FORM, "read both pegs once from each set-up", Source(label)))

    def unlike(stand: str) -> float:
        one, two = (float(distance[at[stand, peg]]) for peg in names)
        return abs(one - two)

    first, second = sorted(stands, key=unlike)
    readings = [float(rod[at[stand, peg]]) for stand in (first, second) for peg in names]
    lengths = [
        (float(distance[at[stand, names[0]]]), float(distance[at[stand, names[1]]])) for stand in (first, second)
    ]
    return PegTest(readings[0], readings[1], readings[2], readings[3], lengths[0], lengths[1])
