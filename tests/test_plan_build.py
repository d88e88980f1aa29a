"""The plan hands its placement to what is built, and what is built back to its cautions and notices."""

from __future__ import annotations

import pytest

from spadework.build import BuildOptions
from spadework.build.lumber import StockLength
from spadework.factors import soil_factors
from spadework.pad import BuildUp, Edge, Layer, Pad
from spadework.placement import GOALS, BearingLimit, FinishLimit, Limits, PositionLimit
from spadework.plan import Plan, PlanInputs, make_plan
from spadework.units import LengthUnit
from timber_yard import plane


def made(finish: float, *, edge: str = "timber", build: BuildOptions | None = None) -> Plan:
    """The plan of the pad of the worked examples, on the slope along its short side, at a finish level."""
    pad = Pad.rectangle(
        4.2, 3.0, build_up=BuildUp((Layer("clean-stone-20", 0.1),)), strip=0.05, edge=Edge(edge, "100 x 150")
    )
    return make_plan(
        PlanInputs(
            name="Bench",
            date="2026-05-02",
            units=LengthUnit.METRE,
            ground=plane(10.2, 0.0, 0.1, 4.2, 3.0),
            pad=pad,
            limits=Limits(
                bearing=BearingLimit(90.0),
                position=PositionLimit(0.0, 0.0),
                finish=FinishLimit("fixed", finish),
                bought=50.0,
            ),
            goal=GOALS["balance"],
            soil=soil_factors("loam"),
            build=build,
        )
    )


def names(plan: Plan) -> set[str]:
    """Names of the cautions."""
    return {caution.name for caution in plan.cautions}


def test_plan_when_it_has_a_frame() -> None:
    """The frame is that of the worked example, made with common practice; bars and timber raise their cautions."""
    plan = made(10.08)
    assert plan.build is not None
    assert plan.build.edge is not None
    assert plan.build.edge.trench_volume == pytest.approx(0.204)
    assert plan.build.edge.top == pytest.approx(10.08)
    assert {"timber", "bars", "cut-face"} <= names(plan)  # along AB the ground stands 0.12 above the finish
    assert set(plan.build.notices) <= set(plan.notices)


@pytest.mark.parametrize(("finish", "raised"), [(10.2, False), (10.45, True)])
def test_plan_when_the_frame_counts_from_its_foot(finish: float, raised: bool) -> None:
    """Two feet, 0.61 m, count from the foot: 0.30 above ground is 0.45 in all, 0.55 above ground is 0.75 in all."""
    assert ("edge-height" in names(made(finish))) is raised


def test_plan_when_the_edge_is_another() -> None:
    """A retained edge that is no timber has stone, hours and steps, no frame and no cautions of one."""
    plan = made(10.08, edge="retained")
    assert plan.build is not None
    assert plan.build.edge is None
    assert plan.build.layers[0].compacted == pytest.approx(12.6 * 0.1)
    assert not {"timber", "bars"} & names(plan)


def test_plan_when_the_site_file_chooses() -> None:
    """What is chosen is used: the only length of timber that can be had is the one that is bought."""
    options = BuildOptions.usual(LengthUnit.METRE)
    plan = made(10.08, build=BuildOptions(options.edge, (StockLength(3.0, 11.0),), options.kerf))
    assert plan.build is not None
    assert plan.build.cutting is not None
    assert set(plan.build.cutting.counts) == {3.0}
    assert plan.build.edge is not None
    assert plan.build.edge.joints >= 2
    assert plan.build.money is not None
