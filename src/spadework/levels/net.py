"""A level net of any shape: points joined by observed differences of level, some of the points known."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from spadework.adjust.least_squares import LeastSquares, solve_least_squares
from spadework.errors import Fault, InputError
from spadework.levels.wording import did_you_mean, first_of_many, name_key
from spadework.readings import FloatArray, IntArray

__all__ = ["AdjustedNet", "LevelLines", "Weights", "adjust_level_net", "reached_nodes", "solve_nodes"]

Weights = Literal["set-ups", "distance", "sd"]
KILOMETRE = 1000.0
_COLUMNS = {"set-ups": "numbers of set-ups", "distance": "distances", "sd": "standard deviations"}
MOST_NAMED = 8


@dataclass(frozen=True)
class LevelLines:
    """Levelled lines of a net, each from one point to another.

    Parameters
    ----------
    start, end : tuple of str, length m
        Names of the points.
    rise : array, shape (m,)
        Level of the end less level of the start, as observed. [m]
    setups : array, shape (m,), optional
        Set-ups of each line.
    distance : array, shape (m,), optional
        Length of each line. [m]
    sd : array, shape (m,), optional
        Standard deviation of each rise. [m]
    """

    start: tuple[str, ...]
    end: tuple[str, ...]
    rise: FloatArray
    setups: FloatArray | None = None
    distance: FloatArray | None = None
    sd: FloatArray | None = None

    def __len__(self) -> int:
        return len(self.start)

    def weighted_sd(self, weights: Weights, of_one: float) -> FloatArray:
        """Return the standard deviation of each line. [m]

        Parameters
        ----------
        weights : str
            ``"set-ups"``: ``of_one sqrt(set-ups)``; ``"distance"``: ``of_one sqrt(kilometres)``; ``"sd"``: as given.
        of_one : float
            Standard deviation of a line of one set-up, or of one kilometre. [m]
        """
        column = {"set-ups": self.setups, "distance": self.distance, "sd": self.sd}[weights]
        if column is None:
            raise InputError(
                Fault(
                    f"the lines have no {_COLUMNS[weights]}",
                    f"weights by {weights} need them",
                    "Give them, or choose other weights",
                )
            )
        if weights == "sd":
            return column
        size = column if weights == "set-ups" else column / KILOMETRE
        sd: FloatArray = of_one * np.sqrt(size)
        return sd


@dataclass(frozen=True)
class AdjustedNet:
    """An adjusted net of p points and m lines.

    Parameters
    ----------
    point : tuple of str, length p
        Names, in the order in which the lines first name them.
    level : array, shape (p,)
        Adjusted levels. [m]
    expected_sd : array, shape (p,)
        Standard deviation of each level if those of the lines are true; 0 for a known point. [m]
    standard_error : array, shape (p,)
        The same as the lines themselves tell it, by how well they agree; NaN where no line is left over. [m]
    lines : LevelLines
        What was adjusted.
    solution : LeastSquares
        Residuals (adjusted less observed), redundancies and the chi-square of the m lines, then of the bench marks that
        were not held.
    loose : tuple of str
        Names of those bench marks, in that order.
    """

    point: tuple[str, ...]
    level: FloatArray
    expected_sd: FloatArray
    standard_error: FloatArray
    lines: LevelLines
    solution: LeastSquares
    loose: tuple[str, ...] = ()

    def level_of(self, name: str) -> float:
        """Return the adjusted level of a point; names compare without regard to case. [m]"""
        keys = [name_key(each) for each in self.point]
        if name_key(name) not in keys:
            raise InputError(Fault(f"no line of the net names {name!r}", remedy=did_you_mean(name, self.point)))
        return float(self.level[keys.index(name_key(name))])


def reached_nodes(count: int, start: IntArray, end: IntArray, known: FloatArray) -> npt.NDArray[np.bool_]:
    """Return which nodes of a net some chain of observations ties to a known one.

    Parameters
    ----------
    count : int
        Number of nodes.
    start, end : array of int, shape (m,)
        Nodes that each observation joins.
    known : array, shape (count,)
        Known levels, NaN elsewhere. [m]
    """
    from scipy.sparse import csr_array  # noqa: PLC0415 - keeps the start of every command short
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

    edges = csr_array((np.ones(len(start)), (start, end)), shape=(count, count))
    _, part = connected_components(edges, directed=False)
    tied = np.zeros(int(part.max(initial=0)) + 1, dtype=np.bool_)
    tied[part[np.isfinite(known)]] = True
    reached: npt.NDArray[np.bool_] = tied[part]
    return reached


def solve_nodes(  # noqa: PLR0917 - the columns of one table of observations, and of one of nodes
    start: IntArray, end: IntArray, rise: FloatArray, sd: FloatArray, known: FloatArray, near: FloatArray
) -> tuple[LeastSquares, IntArray, Any]:
    """Return the least-squares levels of the unknown nodes of a net, all of which are reached.

    Each observation says ``level[end] - level[start] = rise``; what is solved for is the change of the levels in
    ``near``, so that no digits go to the height of the site above its datum.

    Parameters
    ----------
    start, end : array of int, shape (m,)
        Nodes.
    rise, sd : array, shape (m,)
        Observed differences and their standard deviations. [m]
    known : array, shape (count,)
        Known levels, NaN for the unknowns. [m]
    near : array, shape (count,)
        Levels near the truth. [m]

    Returns
    -------
    solution : LeastSquares
        Its estimate is the change of the unknown nodes' levels. [m]
    column : array of int, shape (count,)
        Column of each node; -1 for a known one.
    design : scipy sparse array, shape (m, n)
        What was solved.
    """
    from scipy.sparse import csr_array  # noqa: PLC0415 - keeps the start of every command short

    unknown = ~np.isfinite(known)
    column = np.where(unknown, np.cumsum(unknown) - 1, -1)
    count = int(unknown.sum())
    level = np.where(unknown, near, known)
    target = rise - (level[end] - level[start])
    number = np.arange(len(rise))
    up, down = unknown[end], unknown[start]
    design = csr_array(
        (
            np.concatenate([np.ones(int(up.sum())), -np.ones(int(down.sum()))]),
            (np.concatenate([number[up], number[down]]), np.concatenate([column[end[up]], column[start[down]]])),
        ),
        shape=(len(rise), count),
    )
    if count == 0:
        nothing = np.empty(0)
        return LeastSquares(nothing, -target, sd, nothing, np.ones(len(rise))), column, design
    return solve_least_squares(design, target, sd), column, design


def _faults(lines: LevelLines, sd: FloatArray, weights: Weights) -> list[Fault]:
    faults = []
    for row in range(len(lines)):
        name = f"line {row + 1}, from {lines.start[row] or '?'} to {lines.end[row] or '?'}"
        if not lines.start[row].strip() or not lines.end[row].strip():
            faults.append(Fault(f"{name}, lacks a point", "a line goes from one point to another", "Name both"))
        elif name_key(lines.start[row]) == name_key(lines.end[row]):
            faults.append(Fault(f"{name}, ends where it begins", "a line goes from one point to another", "Split it"))
        if not math.isfinite(lines.rise[row]):
            faults.append(Fault(f"{name}, has no difference of level", remedy="Give it, or take the line out"))
        if not (math.isfinite(sd[row]) and sd[row] > 0):
            rule = f"weights by {weights} need a number above zero for every line"
            faults.append(Fault(f"{name}, has no weight", rule, "Give it, or choose other weights"))
    return faults


def adjust_level_net(
    lines: LevelLines,
    known: Mapping[str, float],
    *,
    weights: Weights = "set-ups",
    of_one: float = 0.002,
    known_sd: Mapping[str, float] | None = None,
) -> AdjustedNet:
    """Return the net adjusted by weighted least squares, known points held but for those with a standard deviation.

    Parameters
    ----------
    lines : LevelLines
        Lines of any number of loops, between any number of bench marks, repeated or not.
    known : mapping of str to float
        Known levels; names compare without regard to case. [m]
    weights : str
        ``"set-ups"``: the variance of a line grows with its set-ups; ``"distance"``: with its length;
        ``"sd"``: as given.
    of_one : float
        Standard deviation of a line of one set-up, or of one kilometre. It moves no level and no standard error, only
        what is expected of them. [m]
    known_sd : mapping of str to float, optional
        Standard deviation of a known level, by name: it is an observation then, one line from the datum, and not held.
        [m]

    Returns
    -------
    AdjustedNet

    Raises
    ------
    InputError
        When a line is not whole, or points are tied to nothing known; all such faults at once.
    """
    sd = lines.weighted_sd(weights, of_one)
    faults = _faults(lines, sd, weights)
    if faults:
        raise InputError(faults)
    names: dict[str, str] = {}
    for name in (name for pair in zip(lines.start, lines.end, strict=True) for name in pair):
        names.setdefault(name_key(name), name.strip())
    number = {key: place for place, key in enumerate(names)}
    start = np.array([number[name_key(name)] for name in lines.start], dtype=np.int64)
    end = np.array([number[name_key(name)] for name in lines.end], dtype=np.int64)
    levels = {name_key(name): level for name, level in known.items()}
    held = np.array([levels.get(key, math.nan) for key in names])
    reached = reached_nodes(len(names), start, end, held)
    if not reached.all():
        hanging = [name for name, tied in zip(names.values(), reached.tolist(), strict=True) if not tied]
        some = ", ".join(first_of_many(hanging, MOST_NAMED))
        hints = [hint for name in known if name_key(name) not in number and (hint := did_you_mean(name, hanging))]
        what = f"no line ties {some} to a point of known level"
        remedy = "Give the level of one of them, or add a line to it" + (f". {hints[0]}" if hints else "")
        raise InputError(Fault(what, "levels are counted from a bench mark", remedy))
    spread = {name_key(name): value for name, value in (known_sd or {}).items() if value > 0}
    loose = [key for key in names if key in spread and key in levels]
    near = np.where(np.isfinite(held), held, float(np.nanmean(held)))
    held = np.where([key in loose for key in names], math.nan, held)
    datum, at = len(names), np.array([number[key] for key in loose], dtype=np.int64)
    solution, column, _ = solve_nodes(
        np.concatenate([start, np.full(len(loose), datum)]),
        np.concatenate([end, at]),
        np.concatenate([np.asarray(lines.rise), [levels[key] for key in loose]]),
        np.concatenate([sd, [spread[key] for key in loose]]),
        np.append(held, 0.0),
        np.append(near, 0.0),
    )
    column = column[:-1]
    free = column >= 0
    level, expected, error = held.copy(), np.zeros(len(names)), np.zeros(len(names))
    level[free] = near[free] + solution.estimate[column[free]]
    expected[free] = solution.expected_sd[column[free]]
    error[free] = solution.standard_error[column[free]]
    marks = tuple(names[key] for key in loose)
    return AdjustedNet(tuple(names.values()), level, expected, error, lines, solution, marks)
