"""The sample surveys, each planned and placed once for all tests that look at the same result."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from command_line import Result, run
from spadework.plan import Plan, PlanInputs, make_plan
from spadework.site import load_site
from spadework.survey import load_survey, plan_inputs

__all__ = ["DATE", "SAMPLES", "inputs_of", "place", "plan_of"]

SAMPLES = Path(__file__).parents[1] / "sample_surveys"
DATE = "2027-03-01"


@cache
def inputs_of(name: str) -> PlanInputs:
    """What the plan of a sample is made from."""
    site = load_site(SAMPLES / name)
    return plan_inputs(site, load_survey(site), date=DATE)


@cache
def plan_of(name: str) -> Plan:
    """The plan of a sample."""
    return make_plan(inputs_of(name))


@cache
def place(name: str, *options: str) -> Result:
    """What ``spadework place`` says of a sample."""
    done = run("place", SAMPLES / name, *options)
    assert done.status == 0, done.err
    return done
