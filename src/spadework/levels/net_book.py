"""A file of levelled lines reduced: the net adjusted, every loop closed and judged, and what looks wrong."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from spadework.errors import Fault, InputError, MisclosureError, Source
from spadework.levels.closure import judged
from spadework.levels.fit import DEFAULT_PRECISION, USUAL_SIGHT, Precision
from spadework.levels.line_slips import LineSlip, find_line_slips, line_slip_sentence
from spadework.levels.net import AdjustedNet, LevelLines, Weights, adjust_level_net
from spadework.levels.results import Run
from spadework.levels.tolerance import Tolerance
from spadework.levels.wording import Wording, name_key
from spadework.readings import FloatArray, LevelNetLines
from spadework.units import LengthUnit

__all__ = ["ReducedNet", "net_sentence", "reduce_level_net"]


@dataclass(frozen=True)
class ReducedNet:
    """A file of levelled lines, adjusted.

    Parameters
    ----------
    lines : LevelNetLines
        As written.
    net : AdjustedNet
        Levels, their errors, residuals.
    weights : str
        What the weights went by.
    precision : Precision
        What a reading was taken for.
    runs : tuple of Run
        One for each line that closes a loop, or a run from one known level to another.
    tolerance : Tolerance
        The rule.
    unit : LengthUnit
        The unit of the sentences.
    slips : tuple of LineSlip
        What may have been written wrongly, the likeliest first.
    suspects, notices : tuple of str
        What looks wrong; what the reader has to know.
    overridden : bool
        Whether a misclosure over the tolerance was let pass.
    """

    lines: LevelNetLines
    net: AdjustedNet
    weights: Weights
    precision: Precision
    runs: tuple[Run, ...]
    tolerance: Tolerance
    unit: LengthUnit
    slips: tuple[LineSlip, ...] = ()
    suspects: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    overridden: bool = False

    @property
    def failing(self) -> tuple[Run, ...]:
        """The runs that are out by more than their tolerance."""
        return tuple(run for run in self.runs if run.within is False)

    @property
    def level_sd(self) -> FloatArray:
        """Standard deviation of each level, widened where the lines agree worse than promised, shape (p,). [m]"""
        sd: FloatArray = self.net.expected_sd * self.net.solution.widening
        return sd


def _weights(lines: LevelNetLines, wanted: Weights) -> tuple[Weights, tuple[str, ...]]:
    """Return what the weights can go by, and a notice where that is not what was asked for."""
    if lines.sd is not None:
        return "sd", ()
    have = {"set-ups": lines.setups is not None, "distance": lines.distance is not None}
    if have.get(wanted, False):
        return wanted, ()
    other: Weights = "distance" if wanted == "set-ups" else "set-ups"
    if have[other]:
        return other, (f"The lines have no {'lengths' if wanted == 'distance' else 'set-ups'}: weighed by {other}.",)
    notice = "The lines have neither set-ups nor lengths nor standard deviations: each counts as one set-up."
    return "set-ups", (notice,)


def _of_one(precision: Precision, weights: Weights) -> float:
    """Return the standard deviation of one set-up, two readings; or of one kilometre at usual sights. [m]"""
    of_set_up = precision.reading_sd * math.sqrt(2.0)
    return of_set_up if weights != "distance" else of_set_up * math.sqrt(1000.0 / (2.0 * USUAL_SIGHT))


def _closures(lines: LevelNetLines, known: Mapping[str, float]) -> list[Run]:
    """Return the misclosure of each line that the others reach both ends of: a loop, or a run between known levels.

    The lines are walked breadth first from all known points at once, so that a loop is as short as it can be.
    """
    keys = [(name_key(one), name_key(two)) for one, two in zip(lines.start, lines.end, strict=True)]
    level = {key: known[key] for key in dict.fromkeys(key for pair in keys for key in pair) if key in known}
    parent: dict[str, tuple[str, int]] = {}
    beside: dict[str, list[int]] = {}
    for row, pair in enumerate(keys):
        for key in pair:
            beside.setdefault(key, []).append(row)
    setups = np.ones(len(lines)) if lines.setups is None else lines.setups
    length = np.full(len(lines), math.nan) if lines.distance is None else lines.distance
    queue, used = list(level), set()
    for key in queue:
        for row in beside[key]:
            one, two = keys[row]
            other, sign = (two, 1.0) if one == key else (one, -1.0)
            if other not in level:
                level[other] = level[key] + sign * float(lines.rise[row])
                parent[other] = (key, row)
                used.add(row)
                queue.append(other)

    def way(key: str) -> list[int]:
        rows = []
        while key in parent:
            key, row = parent[key]
            rows.append(row)
        return rows

    runs = []
    for row, (one, two) in enumerate(keys):
        if row in used or one not in level or two not in level:
            continue
        around = set(way(one)) ^ set(way(two))
        rows = [row, *sorted(around)]
        runs.append(
            Run(
                "closed" if two in known else "repeat",
                lines.start[row],
                lines.end[row],
                row,
                row,
                int(sum(setups[rows])),
                float(sum(length[rows])),
                level[one] + float(lines.rise[row]),
                level[two],
            )
        )
    return runs


def reduce_level_net(
    lines: LevelNetLines,
    known: Mapping[str, float],
    *,
    tolerance: Tolerance,
    weights: Weights = "set-ups",
    precision: Precision = DEFAULT_PRECISION,
    allow_misclosure: bool = False,
    unit: LengthUnit = LengthUnit.METRE,
) -> ReducedNet:
    """Return levelled lines adjusted by weighted least squares, with every misclosure judged by itself first.

    Parameters
    ----------
    lines : LevelNetLines
        From a file.
    known : mapping of str to float
        Known levels by name. [m]
    tolerance : Tolerance
        What misclosure is allowed.
    weights : str
        ``"set-ups"`` or ``"distance"``; a column of standard deviations comes before both.
    precision : Precision
        How sure one reading is, and the standard deviations of known levels that are not held.
    allow_misclosure : bool
        Whether to go on with a misclosure over the tolerance.
    unit : LengthUnit
        Unit of the sentences.

    Raises
    ------
    InputError
        When no known level is given, or lines hang on none; when the rule needs lengths and there are none.
    MisclosureError
        When a loop or a run is out by more than the tolerance, and that was not allowed.
    """
    chosen, notices = _weights(lines, weights)
    if tolerance.needs_distance and lines.distance is None:
        rule = f"the tolerance {tolerance} needs them"
        remedy = 'Add a column distance, or give a rule that goes by set-ups, such as "construction"'
        raise InputError(Fault(f"the lines of {lines.file} have no lengths", rule, remedy, Source(lines.file)))
    levels = {name_key(name): level for name, level in known.items()}
    named = {name_key(name) for name in (*lines.start, *lines.end)}
    if not levels.keys() & named:
        remedy = f'Give one of them: datum = {{ point = "{lines.start[0]}", level = 100.0 }}'
        what = f"no point of {lines.file} has a known level"
        raise InputError(Fault(what, "levels are counted from a bench mark", remedy, lines.source(0)))
    table = LevelLines(
        lines.start,
        lines.end,
        lines.rise,
        np.ones(len(lines)) if lines.setups is None and chosen == "set-ups" else lines.setups,
        lines.distance,
        lines.sd,
    )
    net = adjust_level_net(
        table, levels, weights=chosen, of_one=_of_one(precision, chosen), known_sd=precision.bench_sd
    )
    words = Wording.of_book(lines.reading_resolution, unit)
    runs = [judged(run, tolerance) for run in _closures(lines, levels)]
    slips = find_line_slips(net, lines.reading_resolution)
    asked = (line_slip_sentence(slips, lines, words),) if slips else ()
    failing = [run for run in runs if run.within is False]
    if failing and not allow_misclosure:
        raise MisclosureError("\n".join([*(_failed(run, lines, words) for run in failing[:6]), *asked]))
    if not runs:
        notices = (*notices, "No line closes a loop or ends on a known level, so nothing checks the levels.")
    return ReducedNet(
        lines, net, chosen, precision, tuple(runs), tolerance, unit, slips, asked, notices, overridden=bool(failing)
    )


def _failed(run: Run, lines: LevelNetLines, words: Wording) -> str:
    """Return that a loop does not close."""
    where = f"{lines.file} line {int(lines.line[run.first_row])}".strip()
    closes = f"closes {words.fine(run.misclosure, sign=True)} over {run.setups} set-ups"
    return (
        f"{where}: the loop through the line from {run.start} to {run.end} {closes}, and {run.rule} allows "
        f"{words.fine(run.allowed)}. Level the lines of that loop again, or allow the misclosure."
    )


def net_sentence(reduced: ReducedNet) -> str:
    """Return how well the lines agree, in a sentence: the chi-square test in words."""
    solution = reduced.net.solution
    free = len(solution.estimate)
    count, freedom = len(reduced.lines), solution.degrees_of_freedom
    basis = {
        "sd": "their own standard deviations",
        "set-ups": f"{1000 * reduced.precision.reading_sd:.3g} mm a reading ({reduced.precision.words})",
        "distance": f"{1000 * reduced.precision.reading_sd:.3g} mm a reading ({reduced.precision.words})",
    }[reduced.weights]
    if freedom < 1:
        return f"{count} lines fix {free} levels and nothing is left over to check them; {basis}."
    low, high = solution.limits
    expect = f"{basis} {'let' if reduced.weights == 'sd' else 'lets'} expect"
    how = {
        "as expected": f"they agree as {expect}",
        "better": f"they agree better than {expect}",
        "worse": f"they agree WORSE than {expect}: a line is wrong, or they are less sure than that",
    }[solution.verdict]
    return (
        f"{count} lines, {freedom} more than needed, weighed by {reduced.weights}: {how} "
        f"(chi-square {solution.chi_square:.1f}, 95 in 100 lie between {low:.1f} and {high:.1f})."
    )
