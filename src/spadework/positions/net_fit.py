"""A net of places with what is said of it: how its measurements agree, and which of them is probably wrong."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from spadework.adjust.pen import unit_of_step
from spadework.adjust.slips import one_question, pen_reasons
from spadework.positions.net import PlaceNet, adjust_place_net
from spadework.positions.net_slips import PlaceSlip, find_place_slips
from spadework.positions.observations import PlaceObservations
from spadework.positions.places import name_key
from spadework.units import FOOT, LengthUnit, format_length

__all__ = [
    "PlaceFit",
    "angle_words",
    "fit_places",
    "measured_words",
    "place_sentence",
    "place_slip_sentences",
    "sight_words",
]

MOVED = 0.5
"""A point that lies farther than this from where its first measurements put it may be on the wrong side. [m]"""


@dataclass(frozen=True)
class PlaceFit:
    """A net of places, adjusted, with its doubts.

    Parameters
    ----------
    net : PlaceNet
        Adjusted places, residuals, redundancies.
    words : str
        What the measurements were taken for: ``tape, assumed``.
    slips : tuple of tuple of PlaceSlip
        For each measurement that is probably wrong what it may have been, the likeliest first.
    moved : mapping of str to float
        Points that all measurements together put elsewhere than those that they were first placed by. [m]
    """

    net: PlaceNet
    words: str
    slips: tuple[tuple[PlaceSlip, ...], ...]
    moved: Mapping[str, float] = field(default_factory=dict)


def fit_places(
    observations: PlaceObservations,
    known: Mapping[str, tuple[float, float]],
    near: Mapping[str, tuple[float, float]],
    words: str = "given",
) -> PlaceFit:
    """Return a net adjusted, and what looks wrong in it.

    Parameters
    ----------
    observations, known, near
        As for `adjust_place_net`.
    words : str
        What the standard deviations come from.
    """
    net = adjust_place_net(observations, known, near)
    moved = {}
    for name, sd in zip(net.point, net.position_sd.tolist(), strict=True):
        away = math.dist(net.at(name), near[name_key(name)])
        if away > max(MOVED, 20.0 * sd):
            moved[name] = away
    return PlaceFit(net, words, find_place_slips(net, near), moved)


def place_sentence(fit: PlaceFit) -> str:
    """Return how well the measurements agree, in a sentence: the chi-square test in words."""
    solution = fit.net.solution
    count, freedom = len(solution.residual), solution.degrees_of_freedom
    points = f"{len(fit.net.point)} place{'' if len(fit.net.point) == 1 else 's'}"
    points = points if fit.net.point else "known places"
    if freedom < 1:
        return f"{count} measurements fix {points} and nothing is left over to check them ({fit.words})."
    low, high = solution.limits
    how = {
        "as expected": f"they agree as {fit.words} lets expect",
        "better": f"they agree better than {fit.words} lets expect",
        "worse": f"they agree WORSE than {fit.words} lets expect: one is wrong, or they are less sure than that",
    }[solution.verdict]
    return (
        f"{count} measurements of {points}, {freedom} more than needed: {how} "
        f"(chi-square {solution.chi_square:.1f}, 95 in 100 lie between {low:.1f} and {high:.1f})."
    )


def angle_words(degrees: float, step: float) -> str:
    """Return an angle as it was written: in degrees, minutes and seconds, or in decimals of a degree."""
    exponent = math.log10(step) if step > 0 else -4.0
    if math.isclose(exponent, round(exponent), abs_tol=1e-6):
        return f"{degrees:.{max(0, -round(exponent))}f}°"
    if step > 0.9 / 3600.0 and not math.isclose(step * 60.0 % 1.0, 0.0, abs_tol=1e-6):
        seconds = round(degrees * 3600.0)
        return f"{seconds // 3600}-{seconds // 60 % 60:02d}-{seconds % 60:02d}"
    if step >= 1.0 / 61.0:
        minutes = round(degrees * 60.0)
        return f"{minutes // 60}-{minutes % 60:02d}"
    tenths = round(degrees * 36000.0)
    return f"{tenths // 36000}-{tenths // 600 % 60:02d}-{tenths % 600 / 10:04.1f}"


def _value(observations: PlaceObservations, row: int, value: float, unit: LengthUnit) -> str:
    """Return a distance or an angle as it stands in the file."""
    step = float(observations.step[row])
    if observations.kind[row] != "distance":
        return angle_words(value % 360.0, step)
    if unit is LengthUnit.FOOT_INCH:
        return format_length(value, unit, step=16)
    in_unit = step / (FOOT if unit is LengthUnit.FOOT else 1.0)
    written = max(0, round(-math.log10(in_unit))) if in_unit > 0 else 3
    return format_length(value, unit, step=min(max(written, 2), 4))


def sight_words(observations: PlaceObservations, row: int) -> str:
    """Return what was measured: ``distance from H1 to Q5``."""
    return f"{observations.kind[row]} from {observations.start[row]} to {observations.end[row]}"


def measured_words(net: PlaceNet, row: int, unit: LengthUnit) -> tuple[str, ...]:
    """Return one adjusted measurement as cells of a table: line, ends, kind, value, correction, w, share checked."""
    observations = net.observations
    residual = float(net.residual[row])
    if observations.kind[row] == "distance":
        fine = {LengthUnit.METRE: 4, LengthUnit.FOOT: 3, LengthUnit.FOOT_INCH: 16}[unit]
        correction = format_length(residual, unit, step=fine, sign=True)
    else:
        correction = f'{residual * 3600.0:+.0f}"'
    return (
        str(int(observations.line[row])),
        observations.start[row],
        observations.end[row],
        observations.kind[row],
        _value(observations, row, float(observations.value[row]), unit),
        correction,
        f"{float(net.solution.standardised[row]) + 0.0:.1f}",
        f"{float(net.solution.redundancy[row]):.2f}",
    )


def _why(slip: PlaceSlip, observations: PlaceObservations) -> str:
    if observations.kind[slip.row] != "distance":
        return {
            "exchanged": "two digits exchanged",
            "whole": "a whole degree out",
            "ten": "ten degrees out",
            "tenth": "ten minutes out",
            "turned": "read from its other end, half a turn out",
            "other": "no slip of the pen that we know; read it again",
        }[slip.kind]
    return {
        **pen_reasons(unit_of_step(float(observations.step[slip.row]))),
        "other": "no slip of the pen that we know; tape it again",
    }[slip.kind]


def _question(slip: PlaceSlip, observations: PlaceObservations, unit: LengthUnit) -> str:
    row = slip.row
    line = f"{observations.file[row]} line {int(observations.line[row])}".strip()
    if slip.kind == "side":
        return f"{line}: does {observations.end[row]} lie on the other side of the line between its known points?"
    was, meant = (_value(observations, row, value, unit) for value in (slip.was, slip.meant))
    if slip.kind == "columns":
        other = slip.other_row
        if observations.line[other] != observations.line[row]:
            line = f"{line} and line {int(observations.line[other])}"
        names = f"{observations.start[row]} and {observations.start[other]} to {observations.end[row]}"
        return f"{line}: did the distances {was} and {meant} from {names} change places?"
    return (
        f"{line}: the {sight_words(observations, row)} is written {was}: did you mean {meant} "
        f"({_why(slip, observations)})?"
    )


def place_slip_sentences(fit: PlaceFit, unit: LengthUnit) -> Iterator[str]:
    """Give a sentence for each slip: the likeliest measurement with what it may have been, then the others.

    Parameters
    ----------
    fit : PlaceFit
        With its slips.
    unit : LengthUnit
        The user's unit.
    """
    for alternatives in fit.slips:
        yield _asked(alternatives, fit.net.observations, unit)
    if not fit.slips:
        for name, away in fit.moved.items():
            yield (
                f"{name} comes to lie {format_length(away, unit)} from where its first measurements put it: was the "
                "side of their line written rightly?"
            )


def _asked(alternatives: Sequence[PlaceSlip], observations: PlaceObservations, unit: LengthUnit) -> str:
    if all(slip.kind == "other" for slip in alternatives):
        return _unexplained(alternatives, observations, unit)
    return one_question([_question(each, observations, unit) for each in alternatives])


def _unexplained(slips: Sequence[PlaceSlip], observations: PlaceObservations, unit: LengthUnit) -> str:
    """Return which measurements disagree with all the others, where no slip of the pen says how."""
    said = []
    for slip in slips:
        row = slip.row
        was, meant = (_value(observations, row, value, unit) for value in (slip.was, slip.meant))
        line = f"{observations.file[row]} line {int(observations.line[row])}".strip()
        said.append(f"{line}: the {sight_words(observations, row)} is written {was}, and the others say {meant}")
    again = "measure it again" if len(said) == 1 else "one of these is wrong, measure them again"
    return f"{'; or '.join(said)}. No slip of the pen that we know explains it: {again}."
