"""Pads on plane ground for the tests of what is built: one call from the levels of the corners to the whole build."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from spadework.build import BuildOptions, BuildPlan, build_plan
from spadework.build.lumber import StockLength
from spadework.earthwork import EdgeProfile, earthwork, edge_profile, soil_account
from spadework.factors import soil_factors
from spadework.ground import Ground, triangulate_shots
from spadework.pad import BuildUp, Edge, Layer, Pad, Placement
from spadework.shots import Shots
from spadework.units import LengthUnit

__all__ = ["plane", "planned", "ring"]


def plane(at_a: float, along: float, across: float, length: float, width: float) -> Ground:
    """Ground that falls by so much per metre along the pad and across it, from a level at corner A.

    The pad lies about the origin, its length to the east, so that A is its north-west corner.
    """
    east, north = (axis.ravel() for axis in np.meshgrid([-10.0, 0.0, 10.0], [-10.0, 0.0, 10.0]))
    level = at_a - along * (east + length / 2) - across * (width / 2 - north)
    names = tuple(f"P{i}" for i in range(9))
    shots = Shots(
        point=names,
        east=east,
        north=north,
        level=level,
        note=("",) * 9,
        file=("",) * 9,
        line=np.arange(9),
    )
    return triangulate_shots(shots)


def planned(
    at_a: float,
    along: float,
    across: float,
    finish: float,
    *,
    size: tuple[float, float] = (4.2, 3.0),
    strip: float = 0.05,
    depth: float = 0.1,
    stock: tuple[StockLength, ...] = (StockLength(4.8),),
    unit: LengthUnit = LengthUnit.METRE,
    beam: str = "100 x 150",
    **options: object,
) -> tuple[BuildPlan, Pad, Ground, Placement]:
    """What is built on a plane: 100 x 150 timbers from lengths of 4.8 m, 100 mm of stone, unless told otherwise."""
    ground = plane(at_a, along, across, *size)
    layers = BuildUp((Layer("clean-stone-20", depth),))
    pad = Pad.rectangle(*size, build_up=layers, strip=strip, edge=Edge("timber", beam))
    placement = Placement(0.0, 0.0, 90.0, finish)
    work = earthwork(ground, pad, placement)
    chosen = replace(BuildOptions.usual(unit), stock=stock, **options)  # type: ignore[arg-type]
    made = build_plan(
        pad,
        finish,
        edge_profile(ground, pad, placement),
        work,
        soil_account(work, soil_factors("loam")),
        options=chosen,
        unit=unit,
        stakes=4,
    )
    return made, pad, ground, placement


def ring(corners: list[list[float]], lengths: tuple[float, ...]) -> tuple[EdgeProfile, ...]:
    """Profiles of the sides of a pad from levels along each, evenly spread; a side starts where the last one ended."""
    names = "ABCDEFGH"[: len(lengths)]
    profiles = []
    for i, (levels, length) in enumerate(zip(corners, lengths, strict=True)):
        whole = np.array([*levels, corners[(i + 1) % len(corners)][0]])
        distance = np.linspace(0.0, length, len(whole))
        profiles.append(EdgeProfile(names[i] + names[(i + 1) % len(names)], distance, whole))
    return tuple(profiles)
