"""A check for programs: one JSON document, its numbers unrounded in the units that it states."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any

from spadework.fieldcheck import FieldCheck, doubts, findings, verdict
from spadework.units import LengthUnit, to_length_unit, to_volume_unit

__all__ = ["FORMAT", "check_bytes", "check_document"]

FORMAT = {"name": "spadework check", "version": 1}

Json = dict[str, Any]


def check_bytes(checks: Sequence[FieldCheck], notices: Sequence[str] = (), overrides: Sequence[str] = ()) -> bytes:
    """Return the document as a UTF-8 file; see `check_document`."""
    document = check_document(checks, notices, overrides)
    return (json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()


def check_document(checks: Sequence[FieldCheck], notices: Sequence[str] = (), overrides: Sequence[str] = ()) -> Json:
    """Return the last of some checks as plain values, and all of them as progress.

    Parameters
    ----------
    checks : sequence of FieldCheck
        In the order in which they were made; at least one.
    notices, overrides : sequence of str
        What the user should know; rules that were set aside.
    """
    last = checks[-1]
    unit = last.wanted.units
    metric = unit is LengthUnit.METRE
    return {
        "format": dict(FORMAT),
        "units": {"length": "m" if metric else "ft", "volume": "m³" if metric else "yd³", "printed_length": unit.value},
        "name": last.wanted.name,
        "plan": last.wanted.source,
        **_check(last, unit),
        "points": [
            {
                "name": point.name,
                "east": _length(point.east, unit),
                "north": _length(point.north, unit),
                "level": _length(point.level, unit),
                "wanted": _length(point.wanted, unit),
                "deviation": _length(point.deviation, unit),
                "state": point.state,
                "note": point.note,
            }
            for point in last.points
        ],
        "outside": list(last.outside),
        "unmeasured_corners": list(last.unmeasured),
        "plane": _plane(last, unit),
        "flatness": _flatness(last, unit),
        "water": None
        if last.hollows is None
        else [{"point": hollow.name, "depth": _length(hollow.depth, unit)} for hollow in last.hollows],
        "layers": _layers(last, unit),
        "findings": list(findings(last)),
        "doubts": list(doubts(last)),
        "notices": list(notices),
        "overrides": list(overrides),
        "progress": [_check(check, unit) for check in checks],
    }


def _length(metres: float | None, unit: LengthUnit) -> float | None:
    """Return a length in metres or decimal feet."""
    return None if metres is None or not math.isfinite(metres) else float(to_length_unit(metres, unit))


def _volume(cubic_metres: float | None, unit: LengthUnit) -> float | None:
    """Return a volume in m³ or yd³."""
    return None if cubic_metres is None else float(to_volume_unit(cubic_metres, unit))


def _check(check: FieldCheck, unit: LengthUnit) -> Json:
    """Return a check in short."""
    amounts = check.amounts
    return {
        "file": check.file,
        "date": check.date or None,
        "stage": check.stage.name,
        "verdict": verdict(check),
        "in_tolerance": check.within,
        "tolerance": _length(check.tolerance, unit),
        "wanted_level": _length(check.wanted.level(check.stage), unit),
        "count": len(check.points),
        "out_of_tolerance": len(check.off),
        "mean_deviation": _length(check.mean, unit),
        "highest": _length(check.highest.deviation, unit),
        "lowest": _length(check.lowest.deviation, unit),
        "dig": None if amounts is None else _volume(amounts.dig, unit),
        "bring": None if amounts is None else _volume(amounts.bring, unit),
        "covered": None if amounts is None else amounts.covered,
    }


def _plane(check: FieldCheck, unit: LengthUnit) -> Json | None:
    plane = check.plane
    if plane is None:
        return None
    return {
        "slope": plane.slope,
        "falls_towards": plane.aspect,
        "level": _length(plane.level, unit),
        "rms": _length(plane.rms, unit),
        "worst": _length(plane.worst, unit),
        "tilt": _length(plane.tilt, unit),
        "corners": [_length(level, unit) for level in plane.corners],
    }


def _flatness(check: FieldCheck, unit: LengthUnit) -> Json:
    flat = check.flatness
    document: Json = {"straight_edge": _length(check.straight_edge_length, unit), "worst": None}
    if flat is not None:
        document["worst"] = {
            "deviation": _length(flat.deviation, unit),
            "start": flat.start,
            "end": flat.end,
            "east": _length(flat.east, unit),
            "north": _length(flat.north, unit),
        }
    return document


def _layers(check: FieldCheck, unit: LengthUnit) -> list[Json]:
    if check.amounts is None:
        return []
    return [
        {
            "material": layer.material,
            "compacted": _volume(layer.compacted, unit),
            "loose": _volume(layer.loose, unit),
            "source": layer.source,
        }
        for layer in check.amounts.layers
    ]
