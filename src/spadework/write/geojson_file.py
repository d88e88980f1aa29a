"""``stakes.geojson``: stakes, references and the pad as GeoJSON, for a map program.

References
----------
RFC 7946, "The GeoJSON Format": WGS 84 longitude and latitude, outer rings counter-clockwise.
"""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np

from spadework.plan import Plan
from spadework.stakeout import Stake, depth_mark
from spadework.write.place_on_earth import earth_of

__all__ = ["geojson_bytes"]


def geojson_bytes(plan: Plan) -> bytes:
    """Return the file; lengths and levels in the properties are metres.

    Parameters
    ----------
    plan : Plan
        A plan with a coordinate reference system.
    """
    earth = earth_of(plan)
    stakes, references = plan.stakeout.ordered(), plan.stakeout.references
    corners = plan.search.best.placement.corners(plan.pad)
    places = np.array([*((s.east, s.north) for s in stakes), *((east, north) for _, east, north in references)])
    points = earth.longitude_latitude(places[:, 0], places[:, 1]).tolist()
    ring = earth.longitude_latitude(*corners[::-1].T).tolist()  # corners run clockwise
    features = [
        _feature({"type": "Polygon", "coordinates": [[*ring, ring[0]]]}, _pad(plan)),
        *(_feature(_point(at), _stake(stake, plan)) for stake, at in zip(stakes, points, strict=False)),
        *(
            _feature(_point(at), {"name": name, "role": "reference"})
            for (name, _, _), at in zip(references, points[len(stakes) :], strict=True)
        ),
    ]
    document = {
        "type": "FeatureCollection",
        "name": plan.name,
        "description": " ".join((*plan.overrides, earth.words)),
        "features": features,
    }
    return (json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n").encode("utf-8")


def _feature(geometry: dict[str, Any], properties: dict[str, Any]) -> dict[str, Any]:
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def _point(place: list[float]) -> dict[str, Any]:
    return {"type": "Point", "coordinates": place}


def _pad(plan: Plan) -> dict[str, Any]:
    place = plan.search.best.placement
    return {"name": plan.name, "role": "pad", "finish_m": place.finish, "formation_m": place.formation(plan.pad)}


def _stake(stake: Stake, plan: Plan) -> dict[str, Any]:
    """Return what a stake says; what is not known is null."""
    levels = {"ground_m": stake.ground_level, "depth_m": stake.depth, "dig_m": stake.dig}
    return {
        "name": stake.name,
        "role": stake.kind,
        "mark": depth_mark(stake.depth, plan.units),
        **{name: value if math.isfinite(value) else None for name, value in levels.items()},
        "formation_m": stake.formation,
        "finish_m": stake.finish,
        "ties_m": {tie.reference: tie.distance for tie in stake.ties},
    }
