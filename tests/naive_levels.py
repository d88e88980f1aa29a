"""The slow and obvious way through a level book, in exact fractions of a millimetre, to compare the fast one with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

Row = tuple[str, Fraction | None, Fraction | None, Fraction | None]


def levels_by_hi(rows: Sequence[Row], known: Mapping[str, Fraction]) -> list[Fraction]:
    """Levels before adjustment, one reading after the other, by height of instrument."""
    instrument: Fraction | None = None
    levels: list[Fraction] = []
    for name, backsight, intermediate, foresight in rows:
        sight = foresight if foresight is not None else intermediate
        if sight is not None:
            assert instrument is not None
            level = instrument - sight
        elif name in known:
            level = known[name]
        else:
            level = next(levels[i] for i, row in enumerate(rows) if row[0] == name)
        levels.append(level)
        if backsight is not None:
            instrument = known.get(name, level) + backsight
    return levels


def levels_by_rise_and_fall(rows: Sequence[Row], known: Mapping[str, Fraction]) -> list[Fraction]:
    """The same by adding up the step from each sight to the next."""
    before: Fraction | None = None
    standing: Fraction | None = None
    levels: list[Fraction] = []
    for name, backsight, intermediate, foresight in rows:
        sight = foresight if foresight is not None else intermediate
        if sight is not None:
            assert before is not None
            assert standing is not None
            level = standing + (before - sight)
        else:
            level = known[name] if name in known else next(levels[i] for i, row in enumerate(rows) if row[0] == name)
        levels.append(level)
        if backsight is not None:
            before, standing = backsight, known.get(name, level)
        else:
            before, standing = sight, level
    return levels


def adjusted_by_set_ups(rows: Sequence[Row], known: Mapping[str, Fraction]) -> list[Fraction]:
    """Levels of a chain of set-ups, each run from known point to known point adjusted in equal parts per set-up."""
    levels = levels_by_hi(rows, known)
    begin = 0
    for end, (name, _, _, foresight) in enumerate(rows):
        if foresight is None or name not in known:
            continue
        misclosure = levels[end] - known[name]
        run = range(begin + 1, end + 1)
        setups = sum(1 for i in range(begin, end) if rows[i][1] is not None)
        met = 1
        for i in run:
            levels[i] -= misclosure * met / setups
            if rows[i][1] is not None:
                met += 1
        begin = end
    return levels
