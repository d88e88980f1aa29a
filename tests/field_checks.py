"""Plans and measured points for tests of the check, made by hand."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from grounds import lattice, shots_of
from spadework.fieldcheck import FieldCheck, Wanted, field_check, stage_named
from spadework.ground import Ground
from spadework.pad import BuildUp, Layer, Pad, Placement
from spadework.readings import FloatArray
from spadework.units import LengthUnit

__all__ = ["check_of", "grid_on", "wanted_pad"]


def wanted_pad(
    length: float = 4.0,
    width: float = 3.0,
    *,
    bearing: float = 0.0,
    finish: float = 100.15,
    layers: Sequence[tuple[str, float]] = (("clean-stone-20", 0.1), ("sand", 0.05)),
    strip: float = 0.1,
    units: LengthUnit = LengthUnit.METRE,
    ground: Ground | None = None,
    at: tuple[float, float] = (20.0, 30.0),
) -> Wanted:
    """A rectangular pad whose formation is 100.000 m unless something else is asked for."""
    pad = Pad.rectangle(length, width, build_up=BuildUp(tuple(Layer(*layer) for layer in layers)), strip=strip)
    placement = Placement(*at, bearing, finish)
    corners = placement.corners(pad)
    stakes = {name: (float(e), float(n)) for name, (e, n) in zip(pad.names, corners, strict=True)}
    return Wanted("Pear court", "2026-03-04", units, pad, placement, stakes, ("BM1", 101.0), ground, "a plan")


def grid_on(wanted: Wanted, along: int = 5, across: int = 4) -> FloatArray:
    """Points on a grid over the pad, corners included, ``east, north`` per row."""
    low, high = wanted.pad.outline.min(axis=0), wanted.pad.outline.max(axis=0)
    v, u = np.meshgrid(np.linspace(low[1], high[1], across), np.linspace(low[0], high[0], along), indexing="ij")
    return wanted.placement.to_site(np.stack([u.ravel(), v.ravel()], axis=-1))


def check_of(
    wanted: Wanted,
    points: FloatArray,
    levels: FloatArray | Sequence[float],
    stage: str = "formation",
    *,
    tolerance: float | None = None,
    straight_edge: float | None = None,
    names: Sequence[str] = (),
) -> FieldCheck:
    """The check of levels at points."""
    shots = shots_of(points[:, 0], points[:, 1], levels, names)
    named = stage_named(stage, wanted.pad.build_up, wanted.units)
    return field_check(wanted, shots, named, tolerance=tolerance, straight_edge=straight_edge, file="levels.csv")


def sloping_ground(east: float, north: float, level: float, wanted: Wanted) -> Ground:
    """A plane ground round the pad that rises by ``east`` and ``north`` per metre and has a level at its middle."""
    at = wanted.placement
    plane = lattice(lambda e, n: level + east * e + north * n, 6.0, 1.0)
    return Ground(np.array([at.east, at.north]), plane.east, plane.north, plane.level, plane.triangles, "lattice")
