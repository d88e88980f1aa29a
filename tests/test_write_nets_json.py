"""Adjusted nets in the document for programs: closed forms, normal equations by hand, and the whole way of a site."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from scipy.optimize import least_squares

from command_line import run
from sample_plan import sample_plan
from spadework.plan import make_plan
from spadework.site import load_site
from spadework.survey import load_survey, plan_inputs
from spadework.units import LengthUnit
from spadework.write.plan_json import plan_document, plan_schema
from surveyed_yard import DATUM, YARD, level, surveyed

FOOT = 0.3048
HOUSE = np.array([[0.0, 0.0], [18.0, 0.0], [9.0, 14.0]])
TAPED = np.array([12.43, 9.67, 7.36])
"""From each corner of the house to P, which lies near (10.5, 6.8). [m]"""
SD = 0.01


def valid(document: dict[str, Any]) -> None:
    """Check a document by the schema, as a program would read it."""
    jsonschema.Draft202012Validator(plan_schema()).validate(json.loads(json.dumps(document, allow_nan=False)))


@pytest.fixture
def tied(tmp_path: Path) -> Path:
    """A site of one point taped from three corners, and levels enough for a ground."""
    rows = "".join(f"P,H{number + 1},{length:.2f}\n" for number, length in enumerate(TAPED))
    readings = (
        '[[readings]]\nfile = "ties.csv"\nsd = "10 mm"\nplaces = { H1 = [0, 0], H2 = [18, 0], H3 = [9, 14] }\n\n'
        '[[readings]]\nfile = "points.csv"'
    )
    points = "point,east (m),north (m),level (m)\n" + "".join(f"{n},{e},{o},{level(e, o):.4f}\n" for n, e, o in YARD)
    surveyed(tmp_path, readings, {"ties.csv": f"point,from,distance (m)\n{rows}", "points.csv": points})
    return tmp_path


@pytest.mark.parametrize(("unit", "metres"), [(LengthUnit.METRE, 1.0), (LengthUnit.FOOT, FOOT)])
def test_places_are_those_of_normal_equations_by_hand(tied: Path, unit: LengthUnit, metres: float) -> None:
    """Place, covariance, ellipse, residuals, redundancies and tests of three tapes to one point, in either unit."""
    site = load_site(tied)
    inputs = plan_inputs(site, load_survey(site))
    document = plan_document(sample_plan(unit, net=inputs.net))
    valid(document)
    net = document["places"]
    found = least_squares(lambda at: np.hypot(*(at - HOUSE).T) - TAPED, [10.5, 6.8], xtol=1e-15, ftol=1e-15, gtol=1e-15)
    unit_vectors = (found.x - HOUSE) / np.hypot(*(found.x - HOUSE).T)[:, None]
    sd = np.array([row["sd"] for row in net["measurements"]]) * metres
    weight = np.diag(1.0 / sd**2)
    covariance = np.linalg.inv(unit_vectors.T @ weight @ unit_vectors)
    redundancy = 1.0 - np.diag(unit_vectors @ covariance @ unit_vectors.T @ weight)
    residual = np.hypot(*(found.x - HOUSE).T) - TAPED
    wide = max(1.0, net["chi_square"]) if net["verdict"] == "worse" else 1.0
    (point,) = net["points"]
    assert np.array([point["east"], point["north"]]) * metres == pytest.approx(found.x, abs=1e-7)
    np.testing.assert_allclose(np.array(point["covariance"]) * metres**2, covariance * wide, rtol=1e-6)
    minor, major = np.sqrt(np.linalg.eigvalsh(covariance * wide))
    assert (point["ellipse"]["minor"] * metres, point["ellipse"]["major"] * metres) == pytest.approx((minor, major))
    assert point["sd"] * metres == pytest.approx(math.sqrt(np.trace(covariance * wide) / 2))
    for row, wanted, share, one in zip(net["measurements"], residual, redundancy, sd, strict=True):
        assert row["residual"] * metres == pytest.approx(wanted, abs=1e-7)
        assert row["redundancy"] == pytest.approx(share, abs=1e-6)
        assert row["standardised"] == pytest.approx(wanted / (one * math.sqrt(share)), abs=1e-4)
        assert (row["kind"], row["to"]) == ("distance", "P")
    assert net["degrees_of_freedom"] == 1
    assert net["chi_square"] == pytest.approx(float(np.sum((residual / sd) ** 2)), abs=1e-6)
    held = {each["point"].upper(): (each["east"] * metres, each["north"] * metres) for each in net["held"]}
    assert held == {f"H{row + 1}": pytest.approx(tuple(spot)) for row, spot in enumerate(HOUSE.tolist())}


def test_plan_carries_the_nets_of_its_survey(tied: Path) -> None:
    """From the files to the document: the net of places is there, and nothing where there is none."""
    site = load_site(tied)
    inputs = plan_inputs(site, load_survey(site))
    document = plan_document(make_plan(inputs))
    valid(document)
    assert [point["point"] for point in document["places"]["points"]] == ["P"]
    assert document["level_nets"] == []
    assert plan_document(sample_plan())["places"] is None


LINES = "from,to,rise (m),setups\nBM1,B,1.000,1\nB,C,0.500,1\nC,BM1,-1.503,1\n"


def test_level_net_is_that_of_the_closed_form(tmp_path: Path) -> None:
    """Three lines of one set-up are 3 mm out: 1 mm on each, a third of each checked, sd of a level s √(2/3)."""
    points = "point,east (m),north (m)\nB,1,14\nC,17,14\n"
    more = "point,east (m),north (m),level (m)\n" + "".join(f"{n},{e},{o},{level(e, o):.4f}\n" for n, e, o in YARD)
    readings = "\n".join(f'[[readings]]\nfile = "{name}"' for name in ("lines.csv", "points.csv", "more.csv"))
    files = {"lines.csv": LINES, "points.csv": points, "more.csv": more}
    survey = surveyed(tmp_path, readings, files, head=DATUM)
    inputs = plan_inputs(load_site(tmp_path), survey)
    document = plan_document(sample_plan(level_nets=inputs.level_nets))
    valid(document)
    (net,) = document["level_nets"]
    levels = {point["point"]: point["level"] for point in net["points"]}
    assert levels == {"BM1": 100.0, "B": pytest.approx(101.001), "C": pytest.approx(101.502)}
    assert [row["residual"] for row in net["lines"]] == pytest.approx([0.001] * 3)
    assert [row["redundancy"] for row in net["lines"]] == pytest.approx([1 / 3] * 3)
    sd = net["lines"][0]["sd"]
    assert [row["standardised"] for row in net["lines"]] == pytest.approx([0.001 / (sd * math.sqrt(1 / 3))] * 3)
    assert net["verdict"] == "as expected"
    assert {point["point"]: point["sd"] for point in net["points"]} == {
        "BM1": 0.0,
        "B": pytest.approx(sd * math.sqrt(2 / 3)),
        "C": pytest.approx(sd * math.sqrt(2 / 3)),
    }
    printed = json.loads(run("level", tmp_path / "lines.csv", "--known", "BM1=100", "--json").out)
    assert printed["lines"] == net["lines"]


def test_readings_of_a_book_are_those_of_the_closed_form(tmp_path: Path) -> None:
    """The bench mark is read as 1.500 and 1.503: half of the 3 mm on each, each half checked; the shots not."""
    shots = "".join(f"{n},,{101.5 - level(e, o):.3f},\n" for n, e, o in YARD)
    book = f"point,BS (m),IS (m),FS (m)\nBM1,1.500,,\n{shots}BM1,,,1.503\n"
    places = "point,east (m),north (m)\n" + "".join(f"{n},{e},{o}\n" for n, e, o in YARD)
    readings = '[[readings]]\nfile = "book.csv"\n\n[[readings]]\nfile = "places.csv"'
    survey = surveyed(tmp_path, readings, {"book.csv": book, "places.csv": places}, head=DATUM)
    document = plan_document(sample_plan(levels=survey.levels))
    valid(document)
    rows = document["levels"][0]["fit"]["observations"]
    assert [(row["line"], row["point"], row["sight"]) for row in rows] == [
        (2, "BM1", "backsight"),
        *((3 + number, name, "intermediate sight") for number, (name, _, _) in enumerate(YARD)),
        (3 + len(YARD), "BM1", "foresight"),
    ]
    first, *middle, last = rows
    assert (first["residual"], last["residual"]) == pytest.approx((0.0015, -0.0015))
    assert (first["redundancy"], last["redundancy"]) == pytest.approx((0.5, 0.5))
    assert first["standardised"] == pytest.approx(0.0015 / (first["sd"] * math.sqrt(0.5)))
    assert [row["redundancy"] for row in middle] == pytest.approx([0.0] * len(YARD), abs=1e-12)
    assert len(rows) == document["levels"][0]["fit"]["readings"]
