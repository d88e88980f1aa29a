"""What is built, for programs: the part of the plan's document about edge, cutting list, materials, hours and steps."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from spadework.build import BuildPlan
from spadework.build.cutting import CuttingList
from spadework.build.edge import EdgePlan
from spadework.build.fabric import FabricOrder
from spadework.build.hours import Hours
from spadework.build.materials import Money
from spadework.build.stone import LayerOrder
from spadework.earthwork import Range

__all__ = ["build_document"]

Json = dict[str, Any]


class Units(Protocol):
    """Turns metres into the document's units."""

    def length(self, metres: float | None) -> float | None: ...
    def area(self, square_metres: float | None) -> float | None: ...
    def volume(self, cubic_metres: float | None) -> float | None: ...


def build_document(build: BuildPlan | None, to: Units) -> Json | None:
    """Return what is built as plain values, or nothing where it was not worked out.

    Parameters
    ----------
    build : BuildPlan, optional
    to : Units
        The document's units.
    """
    if build is None:
        return None
    return {
        "edge": None if build.edge is None else _edge(build.edge, to),
        "cutting_list": None if build.cutting is None else _cutting(build.cutting, to),
        "layers": [_layer(layer, to) for layer in build.layers],
        "fabric": None if build.fabric is None else _fabric(build.fabric, to),
        "materials": [
            {
                "key": line.key,
                "what": line.what,
                "quantity": line.quantity,
                "unit": line.unit,
                "detail": line.detail,
                "price": line.price,
                "cost": line.cost,
            }
            for line in build.materials
        ],
        "hours": _hours(build.hours),
        "money": None if build.money is None else _money(build.money),
        "steps": [{"title": step.title, "text": step.text, "check": step.check} for step in build.steps],
    }


def _edge(edge: EdgePlan, to: Units) -> Json:
    trenches = {trench.side: trench for trench in edge.trenches}
    return {
        "section": edge.section.name,
        "breadth": to.length(edge.section.breadth),
        "height": to.length(edge.section.height),
        "top": to.length(edge.top),
        "exposed": to.length(edge.exposed),
        "ground_above": to.length(edge.ground_above),
        "tallest_side": edge.tallest.name,
        "sides": [
            {
                "name": side.name,
                "length": to.length(side.length),
                "exposed": to.length(side.exposed),
                "least_embedment": to.length(side.least_embedment()),
                "courses": [
                    {"course": run.course, "start": to.length(run.start), "end": to.length(run.end)}
                    for run in side.runs
                ],
                "trench": {
                    "width": to.length(trenches[side.name].width),
                    "shallowest": to.length(trenches[side.name].shallowest),
                    "deepest": to.length(trenches[side.name].deepest),
                    "volume": to.volume(trenches[side.name].volume),
                    "depths": [
                        {"distance": to.length(float(at)), "depth": to.length(float(depth))}
                        for at, depth in zip(trenches[side.name].distance, trenches[side.name].depth, strict=True)
                    ],
                },
            }
            for side in edge.sides
        ],
        "pieces": [
            {
                "mark": piece.mark,
                "side": piece.side,
                "course": piece.course,
                "start": to.length(piece.start),
                "end": to.length(piece.end),
                "lapped_at_start": piece.joint_start,
                "lapped_at_end": piece.joint_end,
                "sawn_at_start": piece.saw_start,
                "sawn_at_end": piece.saw_end,
            }
            for piece in edge.pieces
        ],
        "bars": [
            {
                "side": bar.side,
                "distance": to.length(bar.distance),
                "length": to.length(bar.length),
                "anchor": to.length(bar.anchor),
                "why": bar.why,
            }
            for bar in edge.bars
        ],
        "screws": len(edge.screws),
        "lag_screws": len(edge.lags),
        "trench_volume": to.volume(edge.trench_volume),
    }


def _cutting(cutting: CuttingList, to: Units) -> Json:
    def value(number: float) -> float | None:
        """Return a cost as it is, or a length bought in the document's unit."""
        return number if cutting.priced else to.length(number)

    return {
        "section": cutting.section,
        "kerf": to.length(cutting.kerf),
        "trim": to.length(cutting.trim),
        "made_least": "cost" if cutting.priced else "length",
        "value": value(cutting.value),
        "lower_bound": value(cutting.bound),
        "proved": cutting.proved,
        "cuts": cutting.cuts,
        "timbers": [
            {
                "length": to.length(timber.stock.length),
                "price": timber.stock.price,
                "pieces": [
                    {"mark": mark, "length": to.length(length)}
                    for mark, length in zip(timber.marks, timber.lengths, strict=True)
                ],
                "offcut": to.length(timber.offcut),
            }
            for timber in cutting.timbers
        ],
    }


def _layer(layer: LayerOrder, to: Units) -> Json:
    return {
        "material": layer.material,
        "depth": to.length(layer.depth),
        "area": to.area(layer.area),
        "compacted": to.volume(layer.compacted),
        "factor": _range(layer.factor, lambda number: number),
        "waste": layer.waste,
        "loose": _range(layer.loose, to.volume),
        "mass_t": layer.mass,
        "order": layer.order,
        "order_unit": layer.order_unit,
        "lifts": layer.lifts,
        "source": layer.source,
    }


def _fabric(fabric: FabricOrder, to: Units) -> Json:
    return {
        "sheets_run": "along" if fabric.along else "across",
        "sheets": fabric.sheets,
        "sheet_length": to.length(fabric.sheet_length),
        "upstand": to.length(fabric.upstand),
        "overlap": to.length(fabric.overlap),
        "covered": to.area(fabric.covered),
        "cut": to.area(fabric.cut),
        "rolls": fabric.rolls,
        "staples": fabric.staples,
    }


def _hours(hours: Hours) -> Json:
    def same(number: float) -> float:
        return number

    return {
        "people": hours.crew.people,
        "hours_per_day": hours.crew.hours_per_day,
        "total": _range(hours.total, same),
        "days": _range(hours.days, same),
        "tasks": [
            {
                "name": task.name,
                "row": task.row,
                "quantity": task.quantity,
                "unit": task.unit,
                "hours": _range(task.hours, same),
                "share": hours.share(task),
                "source": task.source,
            }
            for task in hours.tasks
        ],
        "machine": None
        if hours.machine is None
        else {
            "name": hours.machine.name,
            "hours": hours.machine.hours,
            "days": hours.machine.days,
            "hire": hours.machine.hire,
            "by_hand": _range(hours.machine.hand, same),
            "wages_by_hand": hours.machine.wages,
        },
    }


def _money(money: Money) -> Json:
    labour = money.labour
    return {
        "currency": money.currency,
        "materials": money.materials,
        "unpriced": list(money.unpriced),
        "labour": None if labour is None else {"low": labour[0], "likely": labour[1], "high": labour[2]},
    }


def _range(found: Range, convert: Callable[[float], float | None]) -> Json:
    return {"low": convert(found.low), "likely": convert(found.likely), "high": convert(found.high)}
