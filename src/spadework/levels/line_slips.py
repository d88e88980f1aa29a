"""Which line of a level net is most likely wrong, and what it was meant to be: each slip of the pen tried."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from spadework.adjust.least_squares import LeastSquares
from spadework.adjust.pen import HABIT, PenSlip, meant_distances, unit_of_step
from spadework.adjust.slips import GAIN, disagrees, named_slips, one_question, pen_reasons
from spadework.levels.net import AdjustedNet
from spadework.levels.wording import Wording
from spadework.readings import LevelNetLines

__all__ = ["LineSlip", "find_line_slips", "line_slip_sentence"]

MOST_NAMED = 4
HIGHEST = 20.0
"""A rise that no known slip explains may be anything up to this, either way. [m]"""


@dataclass(frozen=True)
class LineSlip:
    """A line that may be wrong, with what it may have been.

    Parameters
    ----------
    kind : str
        A slip of `spadework.adjust.pen`; ``"minus"``: written from its end to its start.
    row : int
        Row of the lines.
    was, meant : float
        As written, and as it may have been. [m]
    share : float
        How likely among all that was tried, 0 to 1.
    sds : float
        By how many of its standard deviations it disagrees with the rest.
    """

    kind: PenSlip
    row: int
    was: float
    meant: float
    share: float = math.nan
    sds: float = math.nan


def find_line_slips(net: AdjustedNet, step: float) -> tuple[LineSlip, ...]:
    """Return what probably went wrong in a net whose lines do not agree, the likeliest first; nothing when they do.

    For a change d of one observation the chi-square is ``S - 2 d p v + d^2 p r``, with weight p, residual v (adjusted
    less observed) and redundancy r. Nothing is changed.

    Parameters
    ----------
    net : AdjustedNet
        Adjusted as written.
    step : float
        Finest step to which the rises are written. [m]
    """
    solution: LeastSquares = net.solution
    if not disagrees(solution):
        return ()
    scored: list[tuple[float, LineSlip]] = []
    for row in range(len(net.lines)):
        share = float(solution.redundancy[row])
        if share < 1e-6:
            continue
        value, sd = float(net.lines.rise[row]), float(solution.sd[row])
        weight, residual, sds = 1.0 / sd**2, float(solution.residual[row]), abs(float(solution.standardised[row]))
        sign = -1.0 if value < 0 else 1.0
        choices = [
            (kind, [(sign * meant, each) for meant, each in found])
            for kind, found in (meant_distances(abs(value), step) if value else ())
        ]
        for kind, found in [*choices, ("minus", [(-value, 1.0)])]:
            total = sum(each for _, each in found)
            for meant, each in found:
                change = meant - value
                left = solution.chi_square - 2 * change * weight * residual + change**2 * weight * share
                if solution.chi_square - left >= GAIN and abs(change) > step / 2:
                    habit = math.log(HABIT[kind] * each / total)
                    scored.append((habit - left / 2, LineSlip(kind, row, value, meant, sds=sds)))
        if sds**2 >= GAIN:
            room = sd / math.sqrt(share) * math.sqrt(2 * math.pi) / (2 * HIGHEST)
            meant = round((value + residual / share) / step) * step
            left = solution.chi_square - sds**2
            scored.append((math.log(HABIT["other"] * room) - left / 2, LineSlip("other", row, value, meant, sds=sds)))
    if not scored:
        return ()
    named = named_slips([score for score, _ in scored], MOST_NAMED)
    return tuple(replace(scored[place][1], share=share) for place, share in named)


def line_slip_sentence(slips: tuple[LineSlip, ...], lines: LevelNetLines, words: Wording) -> str:
    """Return the question about the line that is probably wrong, then the less likely ones."""
    return one_question([_question(slip, lines, words) for slip in slips])


def _question(slip: LineSlip, lines: LevelNetLines, words: Wording) -> str:
    why = {
        **pen_reasons(unit_of_step(lines.reading_resolution)),
        "minus": "a fall taken for a rise, or from and to exchanged",
        "other": "no slip of the pen that we know; level it again",
    }[slip.kind]
    was, meant = words.number(slip.was), words.number(slip.meant)
    where = f"line {int(lines.line[slip.row])}: the rise {was} from {lines.start[slip.row]} to {lines.end[slip.row]}"
    return f"{where}: did you mean {meant} ({why})?"
