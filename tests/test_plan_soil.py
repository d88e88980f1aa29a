"""What the plan says of the soil of the trench."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from spadework.earthwork import earthwork
from spadework.plan import Plan, make_plan
from spadework.site import load_site
from spadework.survey import load_survey, plan_inputs

YARD = Path(__file__).parents[1] / "sample_surveys" / "laser-yard"


@cache
def yard() -> Plan:
    """The plan of the laser sample."""
    site = load_site(YARD)
    return make_plan(plan_inputs(site, load_survey(site), date="2026-05-02"))


def test_trench_soil_balances_at_the_finish_that_is_said() -> None:
    """At the higher finish cut and trench, rammed, make the fill, to the millimetre that is printed."""
    plan = yard()
    (notice,) = [words for words in plan.notices if words.startswith("The trench")]
    assert plan.build is not None
    assert plan.build.edge is not None
    trench = plan.build.edge.trench_volume
    assert f"{trench:.2f} m³" in notice
    higher = float(notice.split("or finish ")[1].split(" m higher")[0])
    at = plan.search.best.placement
    raised = earthwork(plan.ground, plan.pad, type(at)(at.east, at.north, at.bearing, at.finish + higher))
    keep = 1.0 - plan.soil.factors.shrink
    # Half a millimetre of finish moves the balance by that much over the pad, cut and fill together.
    slack = 0.0005 * plan.pad.area
    assert keep * (raised.cut + trench) == pytest.approx(raised.fill, abs=slack)
