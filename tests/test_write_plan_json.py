"""The document for programs: valid by its schema, in the units that it states, unrounded."""

from __future__ import annotations

import copy
import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from sample_plan import HOSTILE, sample_plan
from spadework.placement import Proof
from spadework.units import LengthUnit
from spadework.write.plan_json import plan_bytes, plan_document, plan_schema

ROOT = Path(__file__).parents[1]


SCHEMA = jsonschema.Draft202012Validator(plan_schema())


def valid(document: object) -> None:
    """Check a document by the schema."""
    SCHEMA.validate(document)


def test_schema_is_one_itself() -> None:
    """The schema keeps the rules of JSON Schema 2020-12."""
    jsonschema.Draft202012Validator.check_schema(plan_schema())


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_plan_document_is_valid_by_its_schema_in_every_unit(unit: LengthUnit) -> None:
    """What is written can be checked by anybody with the schema in the docs."""
    valid(json.loads(plan_bytes(sample_plan(unit, hi=101.3))))


def test_plan_document_is_valid_when_most_of_it_is_missing() -> None:
    """A raster without references, bench mark, books or shots makes a valid document too."""
    plan = sample_plan(shots=None, references=(), bench=None, crs="EPSG:27700")
    valid(plan_document(replace(plan, stakeout=replace(plan.stakeout, references=(), stakes=plan.stakeout.stakes))))


def test_plan_document_is_valid_when_it_has_a_proof_and_alternatives() -> None:
    """The places of a proof and of alternatives are described."""
    plan = sample_plan()
    proof = Proof(best=1.9, lower_bound=1.88, gap=0.0105, method="bound", statement="No spot needs less than 1.88 m³.")
    best = plan.search.best
    search = replace(plan.search, proof=proof, alternatives=(replace(best, what_differs="further north"),))
    document = plan_document(replace(plan, search=search))
    valid(document)
    assert document["search"]["proof"]["lower_bound"] == 1.88


def every_key(document: object, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Paths of all keys of all objects."""
    if isinstance(document, dict):
        return [found for key, value in document.items() for found in ((*path, key), *every_key(value, (*path, key)))]
    if isinstance(document, list) and document:
        return every_key(document[0], (*path, 0))
    return []


def test_schema_refuses_a_document_that_lacks_any_part() -> None:
    """Every key is required: none can go missing without a program noticing."""
    document = plan_document(sample_plan(hi=101.3))
    paths = every_key(document)
    assert len(paths) > 150
    for path in paths:
        broken = copy.deepcopy(document)
        holder: Any = broken
        for step in path[:-1]:
            holder = holder[step]
        del holder[path[-1]]
        assert not SCHEMA.is_valid(broken), path


def test_schema_in_the_docs_is_the_one_that_is_shipped() -> None:
    """The copy in the docs is the same to the byte."""
    shipped = ROOT / "src" / "spadework" / "write" / "plan.schema.json"
    assert (ROOT / "docs" / "plan.schema.json").read_bytes() == shipped.read_bytes()


def test_plan_document_is_unrounded() -> None:
    """A tie by Pythagoras agrees to the last bits, not to a printed step."""
    document = plan_document(sample_plan())
    stake = document["stakes"][0]
    expected = math.hypot(stake["east"] - 2.0, stake["north"] - 16.8)
    assert stake["ties"][0]["distance"] == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("unit", [LengthUnit.FOOT, LengthUnit.FOOT_INCH])
def test_plan_document_is_in_decimal_feet_when_the_user_works_in_feet(unit: LengthUnit) -> None:
    """Lengths by 0.3048, volumes by the cubic yard of 0.764554857984 m³ (exact by definition)."""
    metric, feet = plan_document(sample_plan()), plan_document(sample_plan(unit))
    assert feet["units"] == {
        "length": "ft",
        "area": "ft²",
        "volume": "yd³",
        "angle": "deg",
        "printed_length": unit.value,
    }
    assert feet["placement"]["finish"] * 0.3048 == pytest.approx(metric["placement"]["finish"], rel=1e-14)
    assert feet["pad"]["area"] * 0.3048**2 == pytest.approx(5.4 * 3.6, rel=1e-14)
    assert feet["earthwork"]["cut"] * 0.764554857984 == pytest.approx(metric["earthwork"]["cut"], rel=1e-14)
    assert feet["placement"]["bearing"] == 28.0


def test_plan_document_says_what_was_overridden_and_how_it_was_got() -> None:
    """Overrides, cautions and the way the numbers were got are in it."""
    document = plan_document(sample_plan(overrides=("Misclosure of 0.031 m let pass.",)))
    assert document["overrides"] == ["Misclosure of 0.031 m let pass."]
    assert document["how"][0].startswith("40 shots")
    assert document["cautions"][0]["name"] == "utilities"


def test_plan_bytes_keep_words_as_they_are_and_hold_no_bare_nan() -> None:
    """Awkward names survive, and every strict reader can read the file."""
    written = plan_bytes(sample_plan(name=HOSTILE))

    def refuse(constant: str) -> None:
        raise AssertionError(constant)

    assert json.loads(written, parse_constant=refuse)["name"] == HOSTILE
