"""What the plan makes of the soil of the edge's trench: it is counted, and used up, and nothing of it is lost."""

from __future__ import annotations

import pytest

from sample_sites import plan_of
from spadework.earthwork import earthwork
from spadework.plan import Plan


def yard() -> Plan:
    """The plan of the laser sample."""
    return plan_of("laser-yard")


def test_level_uses_up_the_trench_when_the_finish_is_free() -> None:
    """Cut and trench, rammed, make the fill and what is rammed back, less what the frame stands in the place of."""
    plan, soil = yard(), yard().soil
    keep = 1.0 - soil.factors.shrink
    whole = earthwork(plan.ground, plan.pad, plan.search.best.placement)
    assert plan.build is not None
    assert plan.build.edge is not None
    trench = plan.build.edge.trench_volume
    assert trench > 0.1
    wanted = whole.fill + soil.packed_compacted.likely - soil.spared_compacted.likely
    # A millilitre: the spot is polished to a micrometre, and the trench is looked at once more there.
    assert keep * (whole.cut + trench) == pytest.approx(wanted, abs=1e-6)
    assert soil.over_bank.likely == pytest.approx(0.0, abs=1e-6)
    assert soil.short_compacted.likely == pytest.approx(0.0, abs=1e-6)


def test_soil_is_conserved_through_states_and_moves_when_there_is_a_trench() -> None:
    """What is carried is cut and trench less what is rammed back; nothing is lost, to 1e-9."""
    plan, soil = yard(), yard().soil
    keep = 1.0 - soil.factors.shrink
    account = keep * (soil.cut_bank.likely + soil.trench_bank.likely) + soil.short_compacted.likely
    wanted = soil.fill_compacted.likely + soil.packed_compacted.likely - soil.spared_compacted.likely
    assert account == pytest.approx(wanted + keep * soil.over_bank.likely, abs=1e-9)
    assert plan.haul is not None
    moved = sum(move.compacted for move in plan.haul.moves)
    assert moved == pytest.approx(account - soil.packed_compacted.likely, abs=1e-8)
    carried = sum(move.bank for move in plan.haul.moves if move.start.startswith("the trench along "))
    assert carried == pytest.approx(soil.trench_bank.likely - soil.packed_compacted.likely / keep, abs=1e-8)
    assert soil.trench_loose.likely == pytest.approx(soil.trench_bank.likely * (1 + soil.factors.swell), rel=1e-12)
    assert soil.trench_compacted.likely == pytest.approx(soil.trench_bank.likely * keep, rel=1e-12)


def test_plan_says_how_much_of_the_trench_is_counted() -> None:
    """The amount stands in the words of the plan, beside the proof that is for that amount."""
    plan = yard()
    words = " ".join(plan.how)
    assert f"Counting {plan.search.reserve:.3f} m³, in the ground, from the trench of the edge" in words
    assert plan.build is not None
    tasks = {task.name: task.quantity for task in plan.build.hours.tasks}
    assert tasks["Ram soil back beside the frame"] == plan.soil.packed_compacted.likely
    made_up = plan.earthwork.fill - plan.soil.spared_compacted.likely
    assert tasks["Spread and tamp the fill"] == pytest.approx(made_up, rel=1e-12)
    (step,) = [step for step in plan.build.steps if step.title == "Make up"]
    assert f"{made_up:.2f} m³ once compacted" in step.text
