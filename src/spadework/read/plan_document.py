"""An earlier plan read back from its ``plan.json``, as far as a check needs it."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.fieldcheck import Wanted
from spadework.fieldcheck.surface import merged, surface_of
from spadework.ground import Ground
from spadework.pad import BuildUp, Edge, Layer, Pad, Placement
from spadework.units import FOOT, LengthUnit

__all__ = ["PLAN_FILE", "read_plan_document"]

PLAN_FILE = "plan.json"
NAME, VERSION = "spadework plan", 1
FARTHEST = 1e9
BIGGEST = 200_000_000  # bytes
STAKE_LISTS = ("stakes", "offset_stakes", "side_points")
AGAIN = "Run spadework plan again; plan.json is not written by hand"


class _Reader:
    """Takes values out of a document by their paths, and collects a fault for each that is not as it should be."""

    def __init__(self, document: Any, file: str) -> None:
        self.document, self.file = document, file
        self.faults: list[Fault] = []
        self.scale = 1.0

    def get(self, path: str, kind: type | tuple[type, ...], *, optional: bool = False) -> Any:
        """Return the value at a path such as ``placement.east``; None, and a fault more, where it is not of a kind."""
        value = self.document
        for key in path.split("."):
            if isinstance(value, list) and key.isdigit() and int(key) < len(value):
                value = value[int(key)]
            elif isinstance(value, Mapping) and key in value:
                value = value[key]
            else:
                if not optional:
                    self._fault(path, "is missing")
                return None
        if value is None and optional:
            return None
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            self._fault(path, f"is {_shown(value)}")
            return None
        if isinstance(value, int | float) and not abs(value) <= FARTHEST:
            self._fault(path, "is not a number that a site can have")
            return None
        return value

    def length(self, path: str, *, optional: bool = False) -> float:
        """Return a length in metres, NaN where there is none. [m]"""
        value = self.get(path, (int, float), optional=optional)
        return math.nan if value is None else float(value) * self.scale

    def count(self, path: str) -> int:
        """Return how many entries a list has."""
        found = self.get(path, list)
        return 0 if found is None else len(found)

    def _fault(self, path: str, what: str) -> None:
        self.faults.append(
            Fault(f"{path} {what}", "it has to be as docs/plan.schema.json says", AGAIN, Source(self.file))
        )


def read_plan_document(path: Path) -> Wanted:
    """Read an earlier plan.

    Parameters
    ----------
    path : Path
        A ``plan.json``, or the folder that holds it.

    Returns
    -------
    Wanted
        Pad, placement, stakes, bench mark and the ground under the pad, in metres. The ground is that of the depth grid
        and the corner stakes, plane between them.

    Raises
    ------
    InputError
        If there is no such file, it is not a plan, or anything that is needed is missing or of a wrong kind: all at
        once.
    """
    file = path / PLAN_FILE if path.is_dir() else path
    reader = _Reader(_document(file), str(file))
    _check_format(reader)
    unit = _unit(reader)
    if reader.faults:
        raise InputError(reader.faults)
    reader.scale = 1.0 if unit is LengthUnit.METRE else FOOT
    pad = _pad(reader)
    placement = Placement(
        reader.length("placement.east"),
        reader.length("placement.north"),
        _number(reader, "placement.bearing"),
        reader.length("placement.finish"),
    )
    stakes = _stakes(reader)
    bench_name = reader.get("bench.name", str, optional=True)
    bench = None if bench_name is None else (bench_name, reader.length("bench.level"))
    name, date = reader.get("name", str), reader.get("date", str)
    if reader.faults or pad is None:
        raise InputError(reader.faults)
    ground = _ground(reader, pad, placement)
    if reader.faults:
        raise InputError(reader.faults)
    made = f" of {date}" if date else ""
    return Wanted(name, date, unit, pad, placement, stakes, bench, ground, f"{file}{made}")


def _document(file: Path) -> Any:
    """Return what stands in the file."""
    place = Source(str(file))
    if not file.is_file():
        raise InputError(
            Fault(
                "there is no such plan",
                "a plan is the folder that spadework plan wrote, or its plan.json",
                "Give --plan DIR, or leave it out to have the plan made again from the site",
                place,
            )
        )
    if file.stat().st_size > BIGGEST:
        raise InputError(Fault("the file is too big for a plan", "", AGAIN, place))
    try:
        return json.loads(file.read_text(encoding="utf-8-sig"))
    except UnicodeDecodeError:
        raise InputError(Fault("this is no text", "plan.json is UTF-8", AGAIN, place)) from None
    except RecursionError:
        raise InputError(Fault("this is nested too deep for a plan", "", AGAIN, place)) from None
    except ValueError as error:
        line = getattr(error, "lineno", None)
        reason = f"this is no JSON: {getattr(error, 'msg', error)}"
        raise InputError(
            Fault(reason, "plan.json is written whole or not at all", AGAIN, Source(str(file), line))
        ) from None


def _check_format(reader: _Reader) -> None:
    """Collect a fault where the document is not a plan of this version."""
    document, place = reader.document, Source(reader.file)
    head = document.get("format") if isinstance(document, Mapping) else None
    if not isinstance(head, Mapping) or head.get("name") != NAME:
        what = "this is JSON, and not a plan: it has no format.name of a plan"
        reader.faults.append(Fault(what, f"a plan says {NAME!r} there", "Give the plan.json of a plan", place))
    elif head.get("version") != VERSION:
        what = f"this plan has format version {_shown(head.get('version'))}"
        reader.faults.append(Fault(what, f"this program reads version {VERSION}", "Run spadework plan again", place))


def _unit(reader: _Reader) -> LengthUnit:
    """Return the user's unit; the numbers of the document are metres or decimal feet."""
    if reader.faults:
        return LengthUnit.METRE
    printed, length = reader.get("units.printed_length", str), reader.get("units.length", str)
    known = {unit.value: unit for unit in LengthUnit}
    if printed is not None and printed not in known:
        reader.faults.append(
            Fault(f"units.printed_length is {printed!r}", "it is m, ft or ft-in", AGAIN, Source(reader.file))
        )
        return LengthUnit.METRE
    unit = known.get(printed or "m", LengthUnit.METRE)
    if length is not None and (length == "m") != (unit is LengthUnit.METRE):
        what = f"units.length is {length!r} and units.printed_length {printed!r}"
        reader.faults.append(Fault(what, "both are metres or both are feet", AGAIN, Source(reader.file)))
    return unit


def _number(reader: _Reader, path: str) -> float:
    """Return a number without a unit."""
    value = reader.get(path, (int, float))
    return math.nan if value is None else float(value)


def _pad(reader: _Reader) -> Pad | None:
    """Return the pad in its own frame."""
    corners = reader.count("pad.corners")
    outline = [[reader.length(f"pad.corners.{row}.{axis}") for axis in "uv"] for row in range(corners)]
    layers = [
        Layer(reader.get(f"pad.build_up.{row}.material", str) or "", reader.length(f"pad.build_up.{row}.depth"))
        for row in range(reader.count("pad.build_up"))
    ]
    strip = reader.length("pad.strip")
    kind = reader.get("pad.edge.kind", str, optional=True) or "retained"
    if corners < 3 and not reader.faults:
        reader.faults.append(
            Fault(f"the pad has {corners} corners", "an outline has three", AGAIN, Source(reader.file))
        )
    if reader.faults:
        return None
    radius = reader.length("pad.radius", optional=True)
    front = reader.get("pad.front", str, optional=True) or ""
    shape = np.array(outline, dtype=np.float64)
    pad = Pad(
        shape, BuildUp(tuple(layers)), strip, Edge(kind), radius=None if math.isnan(radius) else radius, front=front
    )
    if not pad.area > 0:
        reader.faults.append(Fault("the pad has no area", "its corners go round it", AGAIN, Source(reader.file)))
        return None
    return pad


def _stakes(reader: _Reader) -> dict[str, tuple[float, float]]:
    """Return where each stake stands, those besides the corners as well."""
    found: dict[str, tuple[float, float]] = {}
    for name in STAKE_LISTS:
        if name != "stakes" and reader.get(name, list, optional=True) is None:
            continue
        for row in range(reader.count(name)):
            stake = reader.get(f"{name}.{row}.name", str)
            if stake:
                found.setdefault(stake, (reader.length(f"{name}.{row}.east"), reader.length(f"{name}.{row}.north")))
    return found


def _ground(reader: _Reader, pad: Pad, placement: Placement) -> Ground | None:
    """Return the ground under the pad: the points of the depth grid and the corner stakes, plane between them."""
    along = [reader.length(f"depth_grid.along.{column}") for column in range(reader.count("depth_grid.along"))]
    across = [reader.length(f"depth_grid.across.{row}") for row in range(reader.count("depth_grid.across"))]
    low = pad.outline.min(axis=0)
    points: list[tuple[float, float]] = []
    levels: list[float] = []
    for row in range(reader.count("stakes")):
        level = reader.length(f"stakes.{row}.ground_level", optional=True)
        if not math.isnan(level):
            points.append((reader.length(f"stakes.{row}.east"), reader.length(f"stakes.{row}.north")))
            levels.append(level)
    for row, right in enumerate(across):
        for column, ahead in enumerate(along):
            level = reader.length(f"depth_grid.ground_level.{row}.{column}", optional=True)
            if not math.isnan(level):
                u_v = np.array([[low[0] + ahead, low[1] + right]])
                east, north = placement.to_site(u_v)[0].tolist()
                points.append((east, north))
                levels.append(level)
    if reader.faults or not points:
        return None
    place, level_of, _ = merged(np.array(points), np.array(levels))
    return surface_of(place, level_of)


def _shown(value: Any) -> str:
    """Return a value as a message shows it."""
    kinds: dict[type, Callable[[Any], str]] = {
        dict: lambda _: "a table",
        list: lambda entries: f"a list of {len(entries)}",
        type(None): lambda _: "null",
    }
    shown = kinds.get(type(value), repr)(value)
    return shown if len(shown) <= 60 else f"{shown[:57]}..."
