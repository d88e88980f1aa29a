"""A plan made by hand for the tests of what is written: an invented yard that slopes to the south-east."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from spadework.build import BuildOptions, Caution, build_plan
from spadework.confidence import Confidence, DoubtfulShot, NextShot, assess, study_ground
from spadework.earthwork import earthwork, edge_profile, soil_account
from spadework.factors import SoilFactors
from spadework.ground import triangulate_shots
from spadework.pad import BuildUp, Edge, Layer, Pad, Placement
from spadework.placement import GOALS, KeepOut, Limits, SearchResult, Spot
from spadework.plan import Plan
from spadework.shots import Shots
from spadework.stakeout import stake_out
from spadework.units import LengthUnit

__all__ = ["HOSTILE", "sample_plan", "sure_plan"]

HOSTILE = '<script>alert("1")</script> & $x$ Ünïted'
"""A name that would break a page, a drawing or a table that does not take words as words."""


def sample_plan(units: LengthUnit = LengthUnit.METRE, *, hi: float | None = None, **changes: object) -> Plan:
    """Return the plan of a 5.4 m by 3.6 m pad in a yard of 24 m by 18 m.

    Parameters
    ----------
    units : LengthUnit
        The user's unit.
    hi : float, optional
        Height of instrument. [m]
    **changes
        Attributes of the plan to be replaced.
    """
    return replace(_whole(units, hi), **changes)  # type: ignore[arg-type]


@cache
def _whole(units: LengthUnit, hi: float | None) -> Plan:
    """The plan as it is, made once for all tests that look at it."""
    shots = sample_shots()
    ground = triangulate_shots(shots)
    layers = BuildUp((Layer("clean-stone-20", 0.1),))
    pad = Pad.rectangle(5.4, 3.6, build_up=layers, strip=0.075, edge=Edge("timber", "100 x 150"))
    placement = Placement(13.2, 9.3, 28.0, 100.02)
    volumes = earthwork(ground, pad, placement)
    soil = SoilFactors.given(swell=0.25, shrink=0.10)
    references = (("H1", 2.0, 16.8), ("H2", 11.0, 16.8))
    bench = ("BM1", 100.0)
    boundary = np.array([[0.0, 0.0], [24.0, 0.5], [23.5, 18.0], [0.5, 17.5]])
    limits = Limits(
        boundary=(boundary,),
        setback=1.0,
        keep_outs=(
            KeepOut.circle("pear tree", (19.0, 12.5), 2.5),
            KeepOut.polygon("drain", np.array([[1.0, 3.0], [9.0, 3.4], [9.0, 3.8], [1.0, 3.4]]), 0.6),
        ),
    )
    best = Spot(placement, placement.formation(pad), 1.9, volumes.cut, volumes.fill, 0.2, 0.0, 99.7, 100.3, 99.7, 100.3)
    return Plan(
        name="Plum terrace",
        date="2026-04-18",
        units=units,
        datum="BM1 = 100.000 m, assumed",
        crs="",
        shots=shots,
        levels=(),
        ground=ground,
        pad=pad,
        limits=limits,
        goal=GOALS["digging"],
        references=references,
        bench=bench,
        search=SearchResult(best, (), 1234, "position and bearing free"),
        earthwork=volumes,
        soil=soil_account(volumes, soil),
        stakeout=stake_out(
            ground,
            pad,
            placement,
            references,
            bench=bench,
            hi=hi,
            unit=units,
            offset=0.6,
            fixed_points=(("gate", 12.0, 0.4),),
        ),
        cautions=(
            Caution("utilities", "Before any digging, have buried services marked.", "common practice, no source"),
            Caution("local-code", "Local code and licensed practice come first.", "common practice, no source"),
        ),
        how=("40 shots in 1 file, levels by rotary laser.", "Ground: plane triangles between the shots."),
        notices=("Nothing checks the level of shot 7.",),
        overrides=(),
        build=build_plan(
            pad,
            placement.finish,
            edge_profile(ground, pad, placement),
            volumes,
            soil_account(volumes, soil),
            options=BuildOptions.usual(units),
            unit=units,
            stakes=4,
        ),
    )


def sample_shots() -> Shots:
    """Return shots on a rough grid over the yard, the ground falling to the south-east with a hollow in the middle."""
    random = np.random.default_rng(20260418)
    east, north = (axis.ravel() for axis in np.meshgrid(np.linspace(0.5, 23.3, 8), np.linspace(0.6, 17.4, 6)))
    inner = (east > 1) & (east < 23) & (north > 1) & (north < 17)
    east = east + inner * random.uniform(-1.2, 1.2, len(east))
    north = north + inner * random.uniform(-1.0, 1.0, len(north))
    level = 100.9 - 0.045 * east - 0.03 * (18 - north) + 0.12 * np.sin(east / 3.0) * np.cos(north / 4.0)
    count = len(east)
    return Shots(
        point=tuple(str(i + 1) for i in range(count)),
        east=east.round(2),
        north=north.round(2),
        level=level.round(3),
        note=("",) * count,
        line=np.arange(2, count + 2),
        file=("plum.csv",) * count,
    )


def sure_plan(unit: LengthUnit = LengthUnit.METRE) -> tuple[Plan, Confidence]:
    """The sample plan with how sure it is, a doubtful shot of a hostile name and a next shot worth taking."""
    plan = sample_plan(unit)
    assert plan.shots is not None
    study = study_ground(plan.ground, plan.shots)
    assert study is not None
    placement = plan.search.best.placement
    found = assess(study.process, plan.ground, plan.pad, placement, plan.earthwork, plan.stakeout.stakes, keep=0.9)
    found = replace(
        found,
        doubtful=(DoubtfulShot(HOSTILE, 3.0, 4.0, 100.5, 100.4, 0.01, "yard.csv line 7", "Did you mean 100.400 m?"),),
        next_shots=(NextShot(12.5, 9.0, 0.4, 0.1, True), NextShot(14.0, 8.0, 0.1, 0.09, False)),
        validation=study.validation,
    )
    return replace(plan, confidence=found), found
