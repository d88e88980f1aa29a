"""Adjusted nets for programs: of every point its place or level and how sure it is, of every observation its residual.

Lengths go through a converter of the document's units; angles are degrees, tests and redundancies plain numbers.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np

from spadework.adjust.least_squares import LeastSquares
from spadework.levels import ReducedLevels
from spadework.levels.net_book import ReducedNet
from spadework.positions.net_fit import PlaceFit

__all__ = ["level_net_document", "metres", "place_net_document", "readings_document"]

Json = dict[str, Any]
Length = Callable[[float | None], float | None]
"""Turns metres into the document's unit, and what is not a finite number into nothing."""


def place_net_document(fit: PlaceFit | None, length: Length) -> Json | None:
    """Return an adjusted net of places, or nothing where nothing was measured between points.

    Parameters
    ----------
    fit : PlaceFit, optional
        The net.
    length : callable
        Turns metres into the document's unit.
    """
    if fit is None:
        return None
    net, observations = fit.net, fit.net.observations
    unit = length(1.0) or 1.0

    def point(row: int) -> Json:
        ellipse, covariance = net.ellipse(row), net.widened[row]
        return {
            "point": net.point[row],
            "east": length(float(net.east[row])),
            "north": length(float(net.north[row])),
            "sd": length(float(net.position_sd[row])),
            "covariance": [[metres(float(value) * unit**2) for value in line] for line in covariance],
            "ellipse": {
                "major": length(ellipse.major),
                "minor": length(ellipse.minor),
                "bearing": metres(ellipse.bearing),
            },
        }

    def measured(row: int) -> Json:
        kind = observations.kind[row]
        own = length if kind == "distance" else metres
        return {
            "file": observations.file[row],
            "line": int(observations.line[row]),
            "kind": kind,
            "from": observations.start[row],
            "to": observations.end[row],
            "value": own(float(observations.value[row])),
            "sd": own(float(observations.sd[row])),
            "residual": own(float(net.residual[row])),
            **_checked(net.solution, row),
        }

    return {
        "points": [point(row) for row in range(len(net.point))],
        "held": [
            {"point": name, "east": length(east), "north": length(north)} for name, (east, north) in net.known.items()
        ],
        "measurements": [measured(row) for row in range(len(observations))],
        "sd_from": fit.words,
        **_agreement(net.solution),
        "did_you_mean": [
            [
                {
                    "kind": slip.kind,
                    "file": observations.file[slip.row],
                    "line": int(observations.line[slip.row]),
                    "from": observations.start[slip.row],
                    "to": observations.end[slip.row],
                    **_slip(slip.was, slip.meant, length if observations.kind[slip.row] == "distance" else metres),
                    "share": metres(slip.share),
                }
                for slip in slips
            ]
            for slips in fit.slips
        ],
    }


def level_net_document(reduced: ReducedNet, length: Length) -> Json:
    """Return an adjusted net of levelled lines.

    Parameters
    ----------
    reduced : ReducedNet
        The net.
    length : callable
        Turns metres into the document's unit.
    """
    net, lines = reduced.net, reduced.lines
    return {
        "file": lines.file,
        "weights": reduced.weights,
        "overridden": reduced.overridden,
        "points": [
            {"point": point, "level": length(level), "sd": length(sd), "standard_error": length(error)}
            for point, level, sd, error in zip(
                net.point, net.level.tolist(), reduced.level_sd.tolist(), net.standard_error.tolist(), strict=True
            )
        ],
        "lines": [
            {
                "line": int(lines.line[row]),
                "from": lines.start[row],
                "to": lines.end[row],
                "rise": length(float(lines.rise[row])),
                "sd": length(float(net.solution.sd[row])),
                "residual": length(float(net.solution.residual[row])),
                **_checked(net.solution, row),
            }
            for row in range(len(lines))
        ],
        "bench_marks_not_held": [
            {
                "point": name,
                "sd": length(float(net.solution.sd[place])),
                "residual": length(float(net.solution.residual[place])),
                **_checked(net.solution, place),
            }
            for place, name in enumerate(net.loose, len(lines))
        ],
        "runs": [
            {
                "kind": run.kind,
                "line": int(lines.line[run.first_row]),
                "start": run.start,
                "end": run.end,
                "setups": run.setups,
                "distance": length(run.distance),
                "misclosure": length(run.misclosure),
                "allowed": length(run.allowed),
                "within": run.within,
            }
            for run in reduced.runs
        ],
        **_agreement(net.solution),
        "did_you_mean": [
            {
                "kind": slip.kind,
                "line": int(lines.line[slip.row]),
                **_slip(slip.was, slip.meant, length),
                "share": metres(slip.share),
            }
            for slip in reduced.slips
        ],
        "looks_wrong": list(reduced.suspects),
        "notices": list(reduced.notices),
    }


def readings_document(reduced: ReducedLevels, length: Length) -> list[Json]:
    """Return the adjusted readings of a level book in the order of its rows; empty where it was not adjusted so."""
    if reduced.fit is None:
        return []
    book, readings, solution = reduced.book, reduced.fit.net.readings, reduced.fit.solution

    def sight(place: int, row: int) -> str:
        if readings.is_backsight[place]:
            return "backsight"
        return "foresight" if math.isfinite(book.foresight[row]) else "intermediate sight"

    return [
        {
            "line": int(book.line[row]),
            "point": book.point[row],
            "sight": sight(place, row),
            "reading": length(float(readings.value[place])),
            "sd": length(float(solution.sd[place])),
            "residual": length(float(solution.residual[place])),
            **_checked(solution, place),
        }
        for place in np.lexsort((~readings.is_backsight, readings.row)).tolist()
        for row in (int(readings.row[place]),)
    ]


def _checked(solution: LeastSquares, row: int) -> Json:
    """Return the test of one observation, and how much of it the others check."""
    return {
        "standardised": float(solution.standardised[row]) + 0.0,
        "redundancy": float(solution.redundancy[row]),
    }


def _agreement(solution: LeastSquares) -> Json:
    """Return how well all observations agree."""
    low, high = solution.limits
    return {
        "degrees_of_freedom": solution.degrees_of_freedom,
        "chi_square": metres(solution.chi_square),
        "chi_square_low": metres(low),
        "chi_square_high": metres(high),
        "variance_factor": metres(solution.variance_factor),
        "verdict": solution.verdict,
    }


def _slip(was: float, meant: float, own: Length) -> Json:
    """Return what was written and what may have been meant."""
    return {"was": own(was), "meant": own(meant)}


def metres(value: float | None) -> float | None:
    """Return a number as it is, or nothing where it is none: the converter of a document in metres."""
    return None if value is None or not math.isfinite(value) else float(value)
