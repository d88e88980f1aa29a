"""A check in words: the verdict in one sentence, then what was built, water, flatness, stone, and what looks odd."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spadework.fieldcheck.check import CheckedPoint, FieldCheck
from spadework.fieldcheck.stages import Stage
from spadework.fieldcheck.water import FLATTEST_FALL
from spadework.units import format_inches, format_length, format_slope, format_volume

__all__ = ["doubts", "findings", "stage_words", "to_do", "verdict"]

MOST_NAMED = 6
NEAR_LEVEL = 0.0005  # a slope that prints as level
MOSTLY = 0.95  # share of the pad from which it counts as measured all over


def verdict(check: FieldCheck) -> str:
    """Return the verdict in one sentence.

    Parameters
    ----------
    check : FieldCheck
        A check.
    """
    count, off = len(check.points), check.off
    which = _which(check)
    if not off:
        many = f"all {count} points lie" if count > 1 else "the one point lies"
        # Four corners prove a pad; where some were not read, the sentence that everybody quotes must not say more.
        where = " where measured" if check.unmeasured else ""
        rest = f"; nothing was read near {_corners(check)}" if check.unmeasured else ""
        return f"In tolerance{where}: {many} within {_small(check, check.tolerance)} of {which}; {_mean(check)}{rest}."
    some = f"{len(off)} of {count} points {'lies' if len(off) == 1 else 'lie'}" if count > 1 else "the one point lies"
    worst = [_said(check, point) for point in _extremes(check)]
    rest = ""
    if check.amounts is not None:
        rest = (
            f"; still to dig {format_volume(check.amounts.dig, check.wanted.units)}, "
            f"to bring {format_volume(check.amounts.bring, check.wanted.units)}"
        )
    return (
        f"Not in tolerance: {some} more than {_small(check, check.tolerance)} off {which}, {' and '.join(worst)}{rest}."
    )


def findings(check: FieldCheck) -> tuple[str, ...]:
    """Return sentences on what was built: plane, water, flatness, amounts and stone."""
    unit = check.wanted.units
    found = [*_plane(check), *_water(check)]
    edge = format_length(check.straight_edge_length, unit)
    if check.flatness is not None:
        flat = check.flatness
        kind = "hump" if flat.deviation > 0 else "hollow"
        found.append(
            f"Flatness: under a straight-edge of {edge} the worst deviation is a {kind} of "
            f"{_small(check, abs(flat.deviation))}, between {flat.start} and {flat.end}."
        )
    elif check.deviations is not None:
        found.append(f"Flatness cannot be said: no two points within {edge} of each other have any between them.")
    if check.amounts is not None:
        parts = check.amounts
        of_pad = "" if parts.covered >= MOSTLY else f", on the {parts.covered:.0%} of the pad that was measured"
        found.append(
            f"Still to dig {format_volume(parts.dig, unit)} and to bring {format_volume(parts.bring, unit)}, as it lies"
            f"{of_pad}."
        )
        found += [
            f"Stone: {layer.material} still needs {format_volume(layer.compacted, unit)} in place, "
            f"{format_volume(layer.loose, unit)} as delivered."
            for layer in parts.layers
        ]
        if format_volume(parts.under, unit) != format_volume(0.0, unit) and parts.layers:
            more = format_volume(parts.under, unit)
            if all(point.state != "low" for point in check.points):
                found.append(f"The lowest layer takes {more} more, where the formation is low within the tolerance.")
            else:
                found.append(f"Below the formation {more} is missing: make it up first.")
    else:
        found.append("Plane, water, flatness and amounts need three points that are not in one line.")
    return tuple(found)


def doubts(check: FieldCheck) -> tuple[str, ...]:
    """Return sentences on what looks odd, or was not measured."""
    found = []
    if odd := _other_stage(check):
        found.append(odd)
    if check.outside:
        found.append(f"Off the pad, and not compared: {_named(check.outside)}.")
    if check.unmeasured:
        found.append(f"No point was taken near {_corners(check)}.")
    if check.amounts is not None:
        if check.amounts.covered < MOSTLY:
            found.append(
                f"The points reach {check.amounts.covered:.0%} of the pad; nothing is said of the rest. Take points at "
                "the corners and along the edges."
            )
        unknown = [layer.material for layer in check.amounts.layers if not layer.known]
        found += [f"No figure is known for how {name} settles: counted as clean stone." for name in unknown]
    return tuple(found)


def to_do(check: FieldCheck, point: CheckedPoint) -> str:
    """Return what is to be done at a point: ``dig 0.034 m``, ``bring 0.020 m``, or ``ok``."""
    if point.state == "in tolerance":
        return "ok"
    return f"{'dig' if point.state == 'high' else 'bring'} {_small(check, abs(point.deviation))}"


def _small(check: FieldCheck, metres: float) -> str:
    """Return a small length in the user's unit, inches alone where it is under a foot."""
    words = format_length(metres, check.wanted.units)
    return format_inches(metres) if words.startswith("0' ") else words


def _which(check: FieldCheck) -> str:
    """Return what the points should be at, in words."""
    level = check.wanted.level(check.stage)
    if level is None:
        return f"the ground less the strip of {_small(check, check.wanted.pad.strip)}"
    return f"{check.stage.name} level {format_length(level, check.wanted.units)}"


def _mean(check: FieldCheck) -> str:
    """Return how the points lie on the mean."""
    amount = _small(check, abs(check.mean))
    if not any(digit in amount for digit in "123456789"):
        return "on the mean they are right" if len(check.points) > 1 else "it is right"
    where = "high" if check.mean > 0 else "low"
    return f"on the mean they are {amount} {where}" if len(check.points) > 1 else f"it is {amount} {where}"


def _extremes(check: FieldCheck) -> list[CheckedPoint]:
    """Return the highest of the points that are too high and the lowest of those too low, the worse first."""
    ends = [point for point, state in ((check.highest, "high"), (check.lowest, "low")) if point.state == state]
    return sorted(ends, key=lambda point: -abs(point.deviation))


def _said(check: FieldCheck, point: CheckedPoint) -> str:
    """Return how a point lies, in words."""
    return f"{point.name} {_small(check, abs(point.deviation))} {point.state}"


def _named(names: Sequence[str]) -> str:
    """Return the first few of some names."""
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return f"{', '.join(names[:MOST_NAMED])}{more}"


def _corners(check: FieldCheck) -> str:
    """Return the corners near which nothing was read, in words."""
    what = "corner" if check.wanted.pad.radius is None else "point"
    return f"{what if len(check.unmeasured) == 1 else what + 's'} {_named(check.unmeasured)}"


def _plane(check: FieldCheck) -> list[str]:
    """Return the plane that was built, in words."""
    plane, pad = check.plane, check.wanted.pad
    if plane is None:
        return []
    spread = f"the points lie within {_small(check, plane.worst)} of it"
    if plane.slope < NEAR_LEVEL:
        return [f"The plane built is level; {spread}."]
    what = "corner" if pad.radius is None else "point"
    high, low = (pad.marked[0][int(pick(plane.corners))] for pick in (np.argmax, np.argmin))
    falls = (
        f"The plane built falls {format_slope(plane.slope)} towards {plane.aspect:.0f}° from site north, "
        f"{_small(check, plane.tilt)} from {what} {high} to {what} {low}; {spread}."
    )
    return [falls]


def _water(check: FieldCheck) -> list[str]:
    """Return whether water can stand, in words."""
    if check.hollows is None or check.plane is None:
        return []
    if check.hollows:
        places = [f"{_small(check, hollow.depth)} deep at {hollow.name}" for hollow in check.hollows]
        return [f"Water can stand {_named(places)}: the surface round it is higher."]
    if check.plane.slope < FLATTEST_FALL:
        return ["No hollow among the points, but it is too level for water to run off by itself: it has to soak away."]
    return ["No hollow among the points: water runs off if the edges let it out."]


def _other_stage(check: FieldCheck) -> str:
    """Return a question where the points fit another stage, or are all off by one amount."""
    if check.within or len(check.points) < 3 or check.stage.kind == "strip":
        return ""
    spread = float(np.std([point.deviation for point in check.points]))
    if spread > 2 * check.tolerance or abs(check.mean) <= 2 * spread:
        return ""
    layers = check.wanted.pad.build_up.layers
    heights = [("formation", 0.0)]
    heights += [(f"layer {n}", sum(layer.depth for layer in layers[:n])) for n in range(1, len(layers))]
    heights.append(("finish", check.wanted.pad.build_up.thickness))
    amount = _small(check, abs(check.mean))
    way = "high" if check.mean > 0 else "low"
    for name, above in heights:
        if name != check.stage.name and abs(check.stage.above + check.mean - above) <= check.tolerance:
            return f"All points lie about {amount} {way}, which is {name}: was --stage {_quoted(name)} meant?"
    return (
        f"All points lie {amount} {way} and agree among themselves within about {_small(check, 2 * spread)}: was the "
        "bench mark read wrongly, or the instrument moved?"
    )


def _quoted(name: str) -> str:
    """Return a name as a shell takes it."""
    return f'"{name}"' if " " in name else name


def stage_words(stage: Stage) -> str:
    """Return a stage as the start of a sentence."""
    return {"strip": "After the strip", "formation": "At formation", "finish": "At finish"}.get(
        stage.kind, f"At {stage.name}"
    )
