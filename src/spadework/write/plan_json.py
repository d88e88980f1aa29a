"""The whole plan for programs: one JSON document, its numbers unrounded in the units that it states.

``docs/plan.schema.json`` describes it. Lengths are metres, or decimal feet for somebody who works in feet; what does
not exist is ``null``.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterable, Mapping
from importlib.resources import files
from typing import Any

from spadework.earthwork import Range
from spadework.levels import ReducedLevels
from spadework.plan import Plan
from spadework.stakeout import Span, Stake, depth_mark
from spadework.units import LengthUnit, to_area_unit, to_length_unit, to_volume_unit
from spadework.write.bank_table import banks_document
from spadework.write.build_json import build_document
from spadework.write.confidence_json import confidence_document
from spadework.write.haul_json import haul_document
from spadework.write.limits_json import limits_part
from spadework.write.luck_json import luck_document
from spadework.write.nets_json import level_net_document, place_net_document, readings_document
from spadework.write.search_json import placement_document, search_document
from spadework.write.what_if_json import what_if_document

__all__ = ["FORMAT", "plan_bytes", "plan_document", "plan_schema"]

FORMAT = {"name": "spadework plan", "version": 1}

Json = dict[str, Any]


def plan_bytes(plan: Plan) -> bytes:
    """Return the document as a UTF-8 file."""
    return (json.dumps(plan_document(plan), indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()


def plan_schema() -> Json:
    """Return the JSON Schema of the document."""
    schema: Json = json.loads((files("spadework.write") / "plan.schema.json").read_text(encoding="utf-8"))
    return schema


def plan_document(plan: Plan) -> Json:
    """Return the plan as plain values.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    to = _Units(plan.units)
    return {
        "format": dict(FORMAT),
        "name": plan.name,
        "date": plan.date,
        "units": to.names(),
        "datum": plan.datum,
        "crs": plan.crs or None,
        "overrides": list(plan.overrides),
        "how": list(plan.how),
        "notices": list(plan.notices),
        "cautions": [{"name": c.name, "text": c.text, "source": c.source} for c in plan.cautions],
        "pad": _pad(plan, to),
        "placement": placement_document(plan.search.best, to),
        "earthwork": _earthwork(plan, to),
        "soil": _soil(plan, to),
        "search": search_document(plan, to),
        "stakes": [_stake(stake, plan, to) for stake in plan.stakeout.stakes],
        "offset_stakes": [_stake(stake, plan, to) for stake in plan.stakeout.offsets],
        "side_points": [_stake(stake, plan, to) for stake in plan.stakeout.side_points],
        "setting_order": list(plan.stakeout.order),
        "sides": [_span(span, to) for span in plan.stakeout.sides],
        "diagonals": [_span(span, to) for span in plan.stakeout.diagonals],
        "depth_grid": _depth_grid(plan, to),
        "references": [
            {"name": name, "east": to.length(east), "north": to.length(north)}
            for name, east, north in plan.stakeout.references
        ],
        "bench": None if plan.bench is None else {"name": plan.bench[0], "level": to.length(plan.bench[1])},
        "hi": to.length(plan.stakeout.hi),
        "limits": limits_part(plan.limits, to.length, to.volume),
        "ground": _ground(plan, to),
        "shots": _shots(plan, to),
        "levels": [_levels(reduced, to) for reduced in plan.levels],
        "level_nets": [level_net_document(reduced, to.length) for reduced in plan.level_nets],
        "places": place_net_document(plan.net, to.length),
        "build": build_document(plan.build, to),
        "confidence": confidence_document(plan.confidence, to),
        "luck": luck_document(plan, to),
        "what_if": None
        if plan.what_if is None
        else what_if_document(plan.what_if, plan.search.best, plan.goal, plan.units),
        "unsure": None if plan.confidence is not None else plan.unsure,
        "haul": haul_document(plan.haul, to),
        "banks": banks_document(plan.banks, to),
    }


class _Units:
    """Turns metres into the document's units, and what is not a finite number into nothing."""

    def __init__(self, unit: LengthUnit) -> None:
        self.unit = unit

    def names(self) -> Json:
        """Return the units that the document is in."""
        metric = self.unit is LengthUnit.METRE
        return {
            "length": "m" if metric else "ft",
            "area": "m²" if metric else "ft²",
            "volume": "m³" if metric else "yd³",
            "angle": "deg",
            "printed_length": self.unit.value,
        }

    def length(self, metres: float | None) -> float | None:
        """Return a length in metres or decimal feet."""
        return self._number(metres, to_length_unit)

    def area(self, square_metres: float | None) -> float | None:
        """Return an area in m² or ft²."""
        return self._number(square_metres, to_area_unit)

    def volume(self, cubic_metres: float | None) -> float | None:
        """Return a volume in m³ or yd³."""
        return self._number(cubic_metres, to_volume_unit)

    def lengths(self, values: Iterable[float]) -> list[float | None]:
        """Return each length."""
        return [self.length(value) for value in values]

    def _number(self, value: float | None, convert: Callable[[float, LengthUnit], float]) -> float | None:
        return None if value is None or not math.isfinite(value) else float(convert(float(value), self.unit))


def _finite(value: float | None) -> float | None:
    """Return a number without a unit, or nothing."""
    return None if value is None or not math.isfinite(value) else float(value)


def _pad(plan: Plan, to: _Units) -> Json:
    pad = plan.pad
    return {
        "corners": [
            {"name": name, "u": to.length(u), "v": to.length(v)}
            for name, (u, v) in zip(pad.names, pad.outline, strict=True)
        ],
        "area": to.area(pad.area),
        "strip": to.length(pad.strip),
        "build_up": [{"material": layer.material, "depth": to.length(layer.depth)} for layer in pad.build_up.layers],
        "build_up_thickness": to.length(pad.build_up.thickness),
        "edge": {
            "kind": pad.edge.kind,
            "beam": pad.edge.beam or None,
            "cut_slope": _finite(pad.edge.cut_slope),
            "fill_slope": _finite(pad.edge.fill_slope),
            "corners": None if pad.edge.retained else pad.edge.corners,
        },
        "building": None if pad.building is None else to.lengths(pad.building),
        "shape": pad.sized,
        "radius": to.length(pad.radius),
        "front": pad.front or None,
    }


def _earthwork(plan: Plan, to: _Units) -> Json:
    work = plan.earthwork
    volumes = {name: to.volume(getattr(work, name)) for name in ("cut", "fill", "strip_volume")}
    levels = ("formation", "ground_mean", "ground_low", "ground_high", "edge_low", "edge_high")
    lengths = {name: to.length(getattr(work, name)) for name in (*levels, "deepest_cut", "deepest_fill")}
    return {**volumes, "area": to.area(work.area), **lengths}


def _soil(plan: Plan, to: _Units) -> Json:
    account, factors = plan.soil, plan.soil.factors
    names = (
        "strip",
        "cut_bank",
        "cut_loose",
        "from_cut_compacted",
        "fill_compacted",
        "over_bank",
        "over_loose",
        "short_compacted",
        "short_loose",
        "trench_bank",
        "trench_loose",
        "trench_compacted",
        "packed_compacted",
        "spared_compacted",
    )

    def spread(found: Range) -> Json:
        return {"low": to.volume(found.low), "likely": to.volume(found.likely), "high": to.volume(found.high)}

    return {
        "kind": factors.kind,
        "source": factors.source,
        "swell": {"low": factors.swell_low, "likely": factors.swell, "high": factors.swell_high},
        "shrink": {"low": factors.shrink_low, "likely": factors.shrink, "high": factors.shrink_high},
        **{name: spread(getattr(account, name)) for name in names},
    }


def _stake(stake: Stake, plan: Plan, to: _Units) -> Json:
    names = ("east", "north", "ground_level", "stripped_level", "formation", "finish", "depth", "cut", "fill", "dig")
    hi = plan.stakeout.hi
    return {
        "name": stake.name,
        **{name: to.length(getattr(stake, name)) for name in names},
        "mark": depth_mark(stake.depth, plan.units),
        "ties": [{"reference": tie.reference, "distance": to.length(tie.distance)} for tie in stake.ties],
        "side": stake.side or None,
        "crossing": _finite(stake.crossing),
        "third_tie": None
        if stake.third is None
        else {"reference": stake.third.reference, "distance": to.length(stake.third.distance)},
        "expected_error": to.length(stake.expected_error),
        "kind": stake.kind,
        "of": stake.of or None,
        "away": to.length(stake.away) if stake.of else None,
        "line": stake.line or None,
        "grade_rod": None if hi is None else to.length(stake.grade_rod(hi)),
        "finish_rod": None if hi is None else to.length(stake.finish_rod(hi)),
    }


def _span(span: Span, to: _Units) -> Json:
    return {"start": span.start, "end": span.end, "length": to.length(span.length)}


def _depth_grid(plan: Plan, to: _Units) -> Json:
    grid = plan.stakeout.grid
    return {
        "along": to.lengths(grid.along),
        "across": to.lengths(grid.across),
        "ground_level": [to.lengths(row) for row in grid.ground_level],
        "depth": [to.lengths(row) for row in grid.depth],
    }


def _ground(plan: Plan, to: _Units) -> Json:
    ground, plane = plan.ground, plan.ground.mean_plane()
    return {
        "kind": ground.kind,
        "points": len(ground.level),
        "triangles": ground.triangle_count,
        "area": to.area(ground.area),
        "bounds": dict(zip(("west", "south", "east", "north"), to.lengths(ground.bounds), strict=True)),
        "low": to.length(float(ground.level.min())),
        "high": to.length(float(ground.level.max())),
        "slope": _finite(plane.slope),
        "aspect": _finite(plane.aspect),
    }


def _shots(plan: Plan, to: _Units) -> list[Json]:
    shots = plan.shots
    if shots is None:
        return []
    return [
        {
            "point": shots.point[row],
            "east": to.length(shots.east[row]),
            "north": to.length(shots.north[row]),
            "level": to.length(shots.level[row]),
            "level_sd": to.length(math.nan if shots.level_sd is None else shots.level_sd[row]),
            "position_sd": to.length(math.nan if shots.position_sd is None else shots.position_sd[row]),
            "note": shots.note[row],
            "file": shots.file[row],
            "line": int(shots.line[row]),
        }
        for row in range(len(shots))
    ]


def _levels(reduced: ReducedLevels, to: _Units) -> Json:
    book = reduced.book
    return {
        "file": book.file,
        "setups": reduced.setup_count,
        "adjust": reduced.adjust,
        "overridden": reduced.overridden,
        "runs": [
            {
                "kind": run.kind,
                "start": run.start,
                "end": run.end,
                "setups": run.setups,
                "distance": to.length(run.distance),
                "misclosure": to.length(run.misclosure),
                "allowed": to.length(run.allowed),
                "rule": run.rule,
                "within": run.within,
            }
            for run in reduced.runs
        ],
        "checks": _checks(reduced, to),
        "fit": _fit(reduced, to),
        "suspects": list(reduced.suspects),
        "notices": list(reduced.notices),
    }


def _fit(reduced: ReducedLevels, to: _Units) -> Json | None:
    fit = reduced.fit
    if fit is None:
        return None
    low, high = fit.limits
    return {
        "readings": len(fit.solution.residual),
        "degrees_of_freedom": fit.solution.degrees_of_freedom,
        "reading_sd": to.length(fit.precision.reading_sd),
        "reading_sd_from": fit.precision.words,
        "chi_square": _finite(fit.solution.chi_square),
        "chi_square_low": _finite(low),
        "chi_square_high": _finite(high),
        "verdict": fit.verdict,
        "observations": readings_document(reduced, to.length),
    }


def _checks(reduced: ReducedLevels, to: _Units) -> Mapping[str, Any]:
    names = ("sum_bs", "sum_fs", "sum_last_is", "sum_rise", "sum_fall", "difference", "last_less_first", "disagreement")
    return {**{name: to.length(getattr(reduced.checks, name)) for name in names}, "agrees": reduced.checks.agrees}
