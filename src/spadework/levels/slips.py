"""Which reading of a level book is most likely wrong, and what it was meant to be: each slip of the pen tried."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from spadework.adjust.pen import HABIT, PenSlip, exchanged_digits, meant_readings
from spadework.adjust.slips import GAIN, disagrees, named_slips
from spadework.levels.reading_net import ReadingNet, solve_readings
from spadework.levels.rod_range import ROD_LENGTH
from spadework.readings import FloatArray, IntArray, LevelBook
from spadework.units import FOOT

__all__ = ["Slip", "SlipKind", "exchanged_digits", "find_slips"]

SlipKind = PenSlip
SPREAD: dict[SlipKind, float] = {"inches": FOOT / 12 / math.sqrt(12.0)}
"""How far the true reading may lie from what was meant, a standard deviation: whole inches are read to the inch. [m]"""
MOST_ROUNDS = 4
MOST_TRIED = 3000
MOST_COLUMNS = 300
MOST_WEIGHED = 60
MOST_NAMED = 4
FEWEST_POINTS = 5
LEAST_RELIEF = 0.02
"""Ground is not taken for more even than this. [m]"""


@dataclass(frozen=True)
class Slip:
    """A reading that may be wrong, with what it may have been.

    Parameters
    ----------
    kind : str
        ``"exchanged"`` digits, a ``"whole"`` metre or foot, a ``"tenth"`` of one, a lost ``"minus"``, ``"inches"``
        written as tenths of a foot, ``"columns"`` (BS and FS exchanged), or ``"other"``: no slip we know of.
    row : int
        Row of the book.
    is_backsight : bool
        Whether it is the backsight of that row.
    was, meant : float
        As written, and as it may have been; for ``"columns"`` those of the backsight. [m]
    other_row : int
        For ``"columns"`` the row of the sight that it changed places with, its own at a turning point; -1 otherwise.
    share : float
        How likely among all that was tried, 0 to 1.
    sds : float
        By how many of its standard deviations the reading disagrees with the rest.
    """

    kind: SlipKind
    row: int
    is_backsight: bool
    was: float
    meant: float
    other_row: int = -1
    share: float = math.nan
    sds: float = math.nan


@dataclass(frozen=True)
class _Try:
    """One slip tried: reading and what it may have been, with the log of how often such a slip is made."""

    kind: SlipKind
    reading: int
    meant: float
    habit: float
    other: int = -1


def _tries(net: ReadingNet, book: LevelBook, readings: IntArray) -> Iterator[_Try]:
    step = book.reading_resolution
    longest = max(ROD_LENGTH, float(np.abs(net.readings.value).max()))
    for i in readings.tolist():
        taken = float(net.readings.taken[i])
        value = float(net.value[i]) + taken
        for kind, choices in meant_readings(value, step):
            fitting = [(meant, weight) for meant, weight in choices if abs(meant) <= longest]
            if kind != "minus" and value >= 0:
                fitting = [(meant, weight) for meant, weight in fitting if meant >= 0]
            total = sum(weight for _, weight in fitting)
            for meant, weight in fitting:
                yield _Try(kind, i, meant - taken, math.log(HABIT[kind] * weight / total))


def _column_tries(net: ReadingNet, book: LevelBook, readings: IntArray) -> Iterator[_Try]:
    """Give the backsights and foresights that may have changed columns: of one set-up, or of one turning point."""
    all_readings = net.readings
    chosen = set(all_readings.set_up[readings].tolist())
    closing: dict[int, int] = {}
    for i in np.flatnonzero(~all_readings.is_backsight & np.isfinite(book.foresight[all_readings.row])).tolist():
        closing[int(all_readings.set_up[i])] = i
    for k in sorted(chosen)[:MOST_COLUMNS]:
        if k in closing and abs(float(net.value[k] - net.value[closing[k]])) > 1.5 * book.reading_resolution:
            yield _Try("columns", k, float(net.value[closing[k]]), math.log(HABIT["columns"] * 2), closing[k])
    # Both sights of a turning point, in one row of a book or two of a list: one closes a set-up, one opens the next.
    for k in sorted(chosen)[:MOST_COLUMNS]:
        i = closing.get(k - 1, -1)
        if i < 0 or all_readings.node[all_readings.row[k]] != all_readings.node[all_readings.row[i]]:
            continue
        if abs(float(net.value[k] - net.value[i])) > 1.5 * book.reading_resolution:
            yield _Try("columns", k, float(net.value[i]), math.log(HABIT["columns"] * 2), i)


def _row(net: ReadingNet, reading: int) -> FloatArray:
    row: FloatArray = net.design[[reading], :].toarray().ravel()
    return row


def _chi_squares(net: ReadingNet, tried: list[_Try]) -> tuple[FloatArray, FloatArray]:
    """Return the chi-square that each slip would leave, and the log of how well it explains the readings.

    For a change d of one observation ``S - 2 d p v + d^2 p r``, with weight p, residual v (adjusted less observed) and
    redundancy r; for two of opposite change the cross term ``2 d^2 p p' a N^-1 a'`` comes in.
    """
    solution = net.solution
    weight = 1.0 / np.square(solution.sd)
    pull, stiffness = weight * solution.residual, weight * solution.redundancy
    left, likelihood = np.empty(len(tried)), np.empty(len(tried))
    for place, each in enumerate(tried):
        i, j = each.reading, each.other
        change = each.meant - float(net.value[i])
        value = solution.chi_square - 2 * change * pull[i] + change**2 * stiffness[i]
        if j >= 0:
            value += 2 * change * pull[j] + change**2 * stiffness[j]
            if solution.normal_inverse is not None:
                cross = float(_row(net, i) @ solution.normal_inverse(_row(net, j)))
                value += 2 * change**2 * weight[i] * weight[j] * cross
        left[place] = max(value, 0.0)
        likelihood[place] = (solution.chi_square - left[place]) / 2.0
        if each.kind in SPREAD:
            # The same, with what was meant known only to its spread.
            least = solution.chi_square - float(solution.standardised[i]) ** 2
            widened = 1.0 + SPREAD[each.kind] ** 2 * stiffness[i]
            likelihood[place] = (
                solution.chi_square - least - (left[place] - least) / widened - math.log(widened)
            ) / 2.0
    return left, likelihood


def _evenness(net: ReadingNet, candidates: list[_Try]) -> FloatArray:
    """Return the log of how even the ground comes out with each slip mended, as Student's t with 3 degrees of freedom.

    A slip at a turning point lifts or lowers what was read after it, or that point alone: of two slips that make the
    readings agree equally well, the one that leaves no step in the ground is the likelier. Levels of neighbours go
    together, so the sum counts by an eighth.
    """
    solution, readings = net.solution, net.readings
    columns = net.column[: readings.points]
    points = np.flatnonzero(columns >= 0)
    solve = solution.normal_inverse
    if len(points) < FEWEST_POINTS or solve is None:
        return np.zeros(len(candidates))
    depth = []
    for each in candidates:
        change = each.meant - float(net.value[each.reading])
        right = _row(net, each.reading) * change / solution.sd[each.reading] ** 2
        if each.other >= 0:
            right -= _row(net, each.other) * change / solution.sd[each.other] ** 2
        level = net.level[points] + solve(right)[columns[points]]
        depth.append(np.abs(level - np.median(level)))
    scale = max(min(float(np.median(each)) for each in depth) / 0.6745, LEAST_RELIEF)
    return np.array([-0.25 * np.sum(np.log1p(np.square(each / scale) / 3.0)) for each in depth])


def _round(net: ReadingNet, book: LevelBook, smallest: float) -> tuple[list[Slip], FloatArray]:
    """Return the slips that explain the readings best, the likeliest first, and the readings with that one mended."""
    solution, readings = net.solution, net.readings
    checked = np.flatnonzero(solution.redundancy[: len(readings)] > 1e-6)
    order = checked[np.argsort(-np.abs(solution.standardised[checked]), kind="stable")][:MOST_TRIED]
    tried = [*_tries(net, book, order), *_column_tries(net, book, order)]
    left, likelihood = _chi_squares(net, tried)
    gain = solution.chi_square - left
    worth = [
        place
        for place in np.flatnonzero(gain >= GAIN).tolist()
        if abs(tried[place].meant - float(net.value[tried[place].reading])) >= smallest
    ]
    candidates = [tried[place] for place in worth]
    scores = [tried[place].habit + float(likelihood[place]) for place in worth]
    # No slip we know of: any change within a rod's length, the best of them integrated over.
    spread = solution.sd[order] / np.sqrt(solution.redundancy[order])
    best = solution.residual[order] / solution.redundancy[order]
    for i, change, width in zip(order.tolist(), best.tolist(), spread.tolist(), strict=True):
        gained = float(solution.standardised[i] ** 2)
        if gained >= GAIN and abs(change) >= smallest:
            candidates.append(_Try("other", i, float(net.value[i]) + change, 0.0))
            scores.append(math.log(HABIT["other"] * width * math.sqrt(2 * math.pi) / (2 * ROD_LENGTH)) + gained / 2.0)
    if not candidates:
        return [], net.value
    likeliest = np.argsort(-np.array(scores), kind="stable")[:MOST_WEIGHED].tolist()
    candidates = [candidates[place] for place in likeliest]
    named = named_slips(np.array([scores[place] for place in likeliest]) + _evenness(net, candidates), MOST_NAMED)
    first = candidates[named[0][0]]
    mended = net.value.copy()
    if first.other >= 0:
        mended[first.reading], mended[first.other] = mended[first.other], mended[first.reading]
    else:
        mended[first.reading] = first.meant
    slips = [
        Slip(
            kind=each.kind,
            row=int(readings.row[each.reading]),
            is_backsight=bool(readings.is_backsight[each.reading]),
            was=float(net.value[each.reading] + readings.taken[each.reading]),
            meant=each.meant + float(readings.taken[each.reading]),
            other_row=int(readings.row[each.other]) if each.other >= 0 else -1,
            share=share,
            sds=abs(float(solution.standardised[each.reading])),
        )
        for place, share in named
        for each in (candidates[place],)
    ]
    return slips, mended


def find_slips(net: ReadingNet, book: LevelBook, smallest: float) -> tuple[tuple[Slip, ...], ...]:
    """Return what probably went wrong in a book whose readings do not agree; nothing when they do.

    Every reading that others check is tried with every slip of the pen, one at a time: how much better the whole net
    then agrees, times how often that slip is made, says how likely it is. When the likeliest has been mended and the
    readings still do not agree, the search goes on for the next. Nothing is changed: these are questions to the person
    who wrote the book.

    Parameters
    ----------
    net : ReadingNet
        The readings, adjusted as written.
    book : LevelBook
        The book.
    smallest : float
        Slips smaller than this are not looked for: what the tolerance allows for one set-up. [m]

    Returns
    -------
    tuple of tuple of Slip
        For each slip its explanations, the likeliest first.
    """
    found: list[tuple[Slip, ...]] = []
    current = net
    for _ in range(2 * MOST_ROUNDS):
        if len(found) == MOST_ROUNDS or not disagrees(current.solution):
            break
        slips, mended = _round(current, book, smallest)
        if not slips:
            break
        again = [place for place, earlier in enumerate(found) if _same_reading(earlier[0], slips[0])]
        if again:
            # What was first taken for it came from another slip, found since: look at it afresh, as it was written.
            named_before = found.pop(again[0])[0]
            readings = net.readings
            at = (readings.row == named_before.row) & (readings.is_backsight == named_before.is_backsight)
            at |= (readings.row == named_before.other_row) & ~readings.is_backsight
            mended = np.where(at, net.value, current.value)
        else:
            found.append(tuple(slips))
        current = solve_readings(current.readings, mended)
    return tuple(found)


def _same_reading(one: Slip, other: Slip) -> bool:
    return (one.row, one.is_backsight, one.other_row) == (other.row, other.is_backsight, other.other_row)
