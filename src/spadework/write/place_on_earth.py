"""Longitude and latitude of places of the site, where its axes are those of a coordinate reference system."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from pyproj import CRS, Transformer

from spadework.plan import Plan
from spadework.readings import FloatArray

__all__ = ["Earth", "earth_of", "has_place_on_earth"]

LOCAL = {"", "local", "none", "site"}
"""What the axes are called where they have no place on the Earth."""


@dataclass(frozen=True)
class Earth:
    """Turns site axes into WGS 84 longitude and latitude.

    Parameters
    ----------
    name : str
        Coordinate reference system of the site.
    transformer : Transformer
        From its axes, east first, to longitude and latitude.
    unit : float
        Metres in one unit of its axes.
    accuracy : float
        What the turn to another datum may be off by here; 0 where nothing is lost, -1 where nobody knows. [m]
    """

    name: str
    transformer: Transformer
    unit: float
    accuracy: float

    def longitude_latitude(self, east: FloatArray, north: FloatArray) -> FloatArray:
        """Return longitude and latitude, shape (n, 2), rounded to 0.1 mm on the ground. [deg]

        Parameters
        ----------
        east, north : array, shape (n,)
            Site position. [m]
        """
        turned = self.transformer.transform(np.asarray(east) / self.unit, np.asarray(north) / self.unit)
        return np.round(np.column_stack([np.atleast_1d(part) for part in turned]), 9)

    @property
    def words(self) -> str:
        """How far the positions can be trusted."""
        good = f", good to about {self.accuracy:g} m" if self.accuracy > 0 else ""
        good = ", nobody knows how well" if self.accuracy < 0 else good
        return (
            f"Positions turned from {self.name} to WGS 84{good}. They show where the yard is: set the stakes by tape, "
            "since a phone is metres off. Levels are in the site's own datum and stand in the text only."
        )


def has_place_on_earth(plan: Plan) -> bool:
    """Return whether the axes of a plan are those of a coordinate reference system."""
    return plan.crs.strip().casefold() not in LOCAL


def earth_of(plan: Plan) -> Earth:
    """Return what turns the plan's axes into longitude and latitude.

    Parameters
    ----------
    plan : Plan
        A plan with a coordinate reference system.
    """
    crs = CRS.from_user_input(plan.crs)
    flat = crs.sub_crs_list[0] if crs.is_compound else crs.to_2d()
    unit = float(flat.axis_info[0].unit_conversion_factor)
    transformer = Transformer.from_crs(flat, "OGC:CRS84", always_xy=True)
    place = plan.search.best.placement
    transformer.transform(place.east / unit, place.north / unit)
    accuracy = transformer.get_last_used_operation().accuracy
    return Earth(plan.crs if len(plan.crs) < 40 else crs.name, transformer, unit, float(accuracy))
