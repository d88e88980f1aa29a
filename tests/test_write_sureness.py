"""How sure a plan is, on paper: the document for programs, the field sheet, the table of stakes and the drawing."""

from __future__ import annotations

import json
import re

import jsonschema
import numpy as np
import pytest

from sample_plan import HOSTILE, sample_plan, sure_plan
from spadework.units import FOOT, LengthUnit
from spadework.write.field_sheet import field_sheet
from spadework.write.plan_json import plan_bytes, plan_schema
from spadework.write.sheet_words import summary_rows
from spadework.write.tables import depths_table, stakes_table

YARD = (3 * FOOT) ** 3


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_document_holds_it_and_keeps_the_schema(unit: LengthUnit) -> None:
    """The document is valid, and its numbers are those of the plan in the document's units."""
    plan, found = sure_plan(unit)
    document = json.loads(plan_bytes(plan))
    jsonschema.validate(document, plan_schema())
    metric = unit is LengthUnit.METRE
    content = document["confidence"]
    assert content["cut"]["expected"] == pytest.approx(found.cut.expected / (1 if metric else YARD))
    assert content["stakes"][0]["sd"] == pytest.approx(found.stakes[0].sd / (1 if metric else FOOT))
    assert content["cut"]["measuring"] ** 2 + content["cut"]["between"] ** 2 == pytest.approx(content["cut"]["sd"] ** 2)
    assert [shot["worth_it"] for shot in content["next_shots"]["shots"]] == [True, False]
    assert content["doubtful_shots"][0]["standardised"] == pytest.approx(10.0)


def test_document_has_nothing_where_the_plan_does_not_say() -> None:
    """Without a study of the shots the document says null, which its schema allows."""
    document = json.loads(plan_bytes(sample_plan()))
    assert document["confidence"] is None
    jsonschema.validate(document, plan_schema())


def test_field_sheet_says_it_and_why_in_words() -> None:
    """The sheet holds what to expect and why, how good each mark is, the doubtful shot escaped, and the next shot."""
    plan, found = sure_plan()
    page = field_sheet(plan).decode()
    part = page[page.index('<section id="sure">') :]
    part = re.sub(
        r"\s+",
        " ",
        re.sub(r"<[^>]+>", " ", re.sub(r"</?span[^>]*>", "", part[: part.index("</section>")])).replace("\u00a0", " "),
    )
    assert f"± {found.cut.sd:.2f} m³" in part
    assert "shots are" in part
    assert "apart" in part
    for stake in found.stakes:
        assert f"{stake.give_or_take:.3f}" in part
    assert "Did you mean 100.400 m?" in part
    assert "1. at east 12.500 m, north 9.000 m: the cut is then known to" in part or "the fill is then" in part
    assert HOSTILE not in page
    plain = field_sheet(sample_plan()).decode()
    assert "How sure the plan is cannot be said" in plain


def test_summary_and_stakes_carry_it() -> None:
    """The drawing's summary has what to expect; the table of stakes says for each corner how good its mark is."""
    plan, found = sure_plan()
    rows = dict(summary_rows(plan))
    assert rows["Cut to expect"] == f"{found.cut.expected:.2f} ± {found.cut.sd:.2f} m³"
    assert "Cut to expect" not in dict(summary_rows(sample_plan()))
    table = stakes_table(plan)
    named = {stake.name: stake.give_or_take for stake in found.stakes}
    for name, text in zip(table["stake"], table["mark good to [m]"], strict=True):
        if name in named:
            assert float(text) == pytest.approx(named[name], abs=6e-5)
        else:
            assert text == ""
    assert "mark good to [m]" not in stakes_table(sample_plan())
    assert np.isfinite([float(text) for text in table["expected ground above formation [m]"] if text]).all()


def test_depths_carry_it_as_the_stakes_do() -> None:
    """At a corner the grid of depths and the stake there are good to the same; every other point has a figure too."""
    plan, confidence = sure_plan()
    table = depths_table(plan)
    (heading,) = [name for name in table.columns if name.startswith("mark good to")]
    corner = next(doubt for doubt in confidence.stakes if doubt.name == "A")
    assert float(table[heading].iloc[0]) == pytest.approx(corner.give_or_take, abs=0.0006)
    assert (table[heading].astype(float) > 0).all()
