"""Water about a pad, before anything is dug: where it stands, how much runs onto the pad, and where it goes from there.

The ground is taken as it is drawn, bare and tight; distances and areas here are judgements, without a published source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely

from spadework.ground import Ground
from spadework.ground.clipping import only_corners
from spadework.ground.hollows import Hollow, find_hollows
from spadework.ground.runoff import Runoff, WaterWay
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray
from spadework.units import LengthUnit, format_area, format_length, format_wind, to_length_unit

__all__ = ["PadWater", "pad_water", "water_notices"]

AROUND = 4.0
"""Water is followed within so many times the pad's longer side, about its middle."""
STARTS = 20
"""Places across that square from which water is followed."""
NEAR = 3.0
"""A hollow within this distance of the pad is near it. [m]"""
SHALLOWEST = 0.03
MOST_CORNERS = 30_000
SHORTEST_WAY = 0.5


@dataclass(frozen=True, eq=False)
class PadWater:
    """What water does about a pad, before anything is dug.

    Parameters
    ----------
    hollows : tuple of Hollow
        Those whose water reaches the pad or near it.
    runs_on : float
        Area outside the pad from which water runs onto it, as far as it was looked at. [m²]
    side : (int, int), optional
        Corners of the side that most of it crosses.
    ways : tuple of WaterWay
        From the lowest point of the pad's outline on.
    """

    hollows: tuple[Hollow, ...]
    runs_on: float
    side: tuple[int, int] | None
    ways: tuple[WaterWay, ...]


def pad_water(ground: Ground, pad: Pad, placement: Placement) -> PadWater | None:
    """Return what water does about a pad; ``None`` where the ground has too many corners to follow it.

    Parameters
    ----------
    ground : Ground
        As it is.
    pad, placement : Pad, Placement
        What is built, and where.
    """
    corners = placement.corners(pad)
    outline = shapely.Polygon(corners)
    half = AROUND / 2 * float(pad.sides.max()) + float(np.ptp(corners, axis=0).max()) / 2
    middle = corners.mean(axis=0)
    near = _window(ground, middle - half, middle + half)
    if near is None or len(near.level) > MOST_CORNERS:
        return None
    hollows = tuple(
        hollow
        for hollow in find_hollows(near, shallowest=SHALLOWEST)
        if outline.distance(shapely.MultiPoint(hollow.flooded)) <= NEAR
    )
    runoff = Runoff(near)
    step = 2 * half / STARTS
    place = (np.arange(STARTS) + 0.5) * step - half
    starts = np.column_stack([values.ravel() for values in np.meshgrid(middle[0] + place, middle[1] + place)])
    starts = starts[(near.triangle_at(starts) >= 0) & ~shapely.contains_xy(outline, *starts.T)]
    sides = [shapely.LineString([corners[i], corners[(i + 1) % len(corners)]]) for i in range(len(corners))]
    crossed = np.zeros(len(sides), dtype=int)
    shapely.prepare(outline)
    for start in starts:
        way = runoff.way(start)
        if len(way.places) < 2:
            continue
        line = shapely.LineString(way.places)
        if not outline.intersects(line):
            continue
        met = shapely.get_coordinates(line.intersection(outline.exterior))
        if len(met):
            entry = met[int(np.argmin([line.project(shapely.Point(place)) for place in met]))]
            crossed[int(np.argmin([side.distance(shapely.Point(entry)) for side in sides]))] += 1
    side = int(crossed.argmax())
    rim = _lowest_of_outline(near, corners)
    ways = (runoff.way(rim),) if near.triangle_at(rim)[0] >= 0 else ()
    return PadWater(
        hollows,
        float(crossed.sum()) * step**2,
        (side, (side + 1) % len(corners)) if crossed.any() else None,
        ways,
    )


def water_notices(ground: Ground, pad: Pad, placement: Placement, unit: LengthUnit) -> tuple[str, ...]:
    """Return sentences that warn of water about a pad.

    Parameters
    ----------
    ground : Ground
        As it is.
    pad, placement : Pad, Placement
        What is built, and where.
    unit : LengthUnit
        The user's unit.
    """
    water = pad_water(ground, pad, placement)
    if water is None:
        return ()
    outline = shapely.Polygon(placement.corners(pad))
    said = []
    for hollow in water.hollows:
        away = outline.distance(shapely.MultiPoint(hollow.flooded))
        where = "under the pad" if away == 0 else f"{format_length(away, unit)} from the pad"
        said.append(
            f"Water stands in a hollow {where}: up to {format_length(hollow.depth, unit)} deep over "
            f"{format_area(hollow.area, unit)}, running over at {format_length(hollow.spill, unit)}. "
            + ("Fill under the pad stands wet there: drain it first." if away == 0 else "Fill it or drain it.")
        )
    if water.side is not None and water.runs_on >= outline.area / 2:
        one, other = (pad.names[i] for i in water.side)
        said.append(
            f"Water from about {_about(water.runs_on, unit)} of ground uphill runs onto the pad, most of it over "
            f"side {one}{other}: lead it round with a shallow ditch above that side."
            f"{_runs_on(water.ways, unit)}"
        )
    return tuple(said)


def _runs_on(ways: tuple[WaterWay, ...], unit: LengthUnit) -> str:
    """Return where water goes from the lowest point of the pad's outline, as a sentence; empty where nowhere."""
    if not ways or len(ways[0].places) < 2:
        return ""
    places = ways[0].places
    east, north = places[-1] - places[0]
    if math.hypot(east, north) < SHORTEST_WAY:
        return ""
    wind = format_wind(math.degrees(math.atan2(east, north)))
    length = float(np.hypot(*np.diff(places, axis=0).T).sum())
    end = "leaves the measured ground" if ways[0].end == "leaves" else "comes to stand"
    return (
        f" Past the pad it runs to the {wind} and {end} after {format_length(round(length, 1), unit)}: see that it may."
    )


def _about(area: float, unit: LengthUnit) -> str:
    """Return an area to two digits."""
    label = "m²" if unit is LengthUnit.METRE else "ft²"
    return f"{float(f'{area * to_length_unit(1.0, unit) ** 2:.2g}'):g} {label}"


def _window(ground: Ground, low: FloatArray, high: FloatArray) -> Ground | None:
    """Return the triangles that touch a rectangle, ``None`` where none do."""
    places = np.column_stack([ground.east, ground.north]) + ground.origin
    corner = places[ground.triangles]
    touched = ((corner.max(axis=1) >= low) & (corner.min(axis=1) <= high)).all(axis=1)
    if not touched.any():
        return None
    return ground if touched.all() else replace(only_corners(ground, ground.triangles[touched]), notices=())


def _lowest_of_outline(ground: Ground, corners: FloatArray) -> FloatArray:
    """Return the lowest of many points along a ring."""
    share = np.linspace(0.0, 1.0, 20, endpoint=False)[:, None]
    points = np.vstack([a + share * (b - a) for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)])
    level = ground.level_at(points)
    lowest: FloatArray = points[int(np.nanargmin(level))] if np.isfinite(level).any() else points[0]
    return lowest
