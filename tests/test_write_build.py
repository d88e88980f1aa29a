"""What is written of the build: tables, the document for programs, and the drawing of the cutting list."""

from __future__ import annotations

import csv
import html
import io
import json
import re
from dataclasses import replace
from typing import Any

import jsonschema
import pytest

from sample_plan import HOSTILE, sample_plan
from spadework.build import BuildOptions, BuildPlan, build_plan
from spadework.build.lumber import StockLength
from spadework.build.options import Crew, Machine
from spadework.earthwork import edge_profile
from spadework.plan import Plan
from spadework.units import FOOT, LengthUnit, parse_length
from spadework.write.build_sheet import build_sheet
from spadework.write.build_tables import cutting_table, hours_table, materials_table
from spadework.write.cutting_drawing import cutting_page
from spadework.write.drawings import edge_drawings
from spadework.write.plan_json import plan_bytes, plan_document, plan_schema
from spadework.write.tables import csv_bytes

UNITS = list(LengthUnit)
STEP = {LengthUnit.METRE: 0.001, LengthUnit.FOOT: FOOT / 100, LengthUnit.FOOT_INCH: FOOT / 192}


def built(unit: LengthUnit = LengthUnit.METRE, *, priced: bool = False, **changes: object) -> tuple[Plan, BuildPlan]:
    """The sample plan with what is built on it."""
    plan = sample_plan(unit, **changes)
    options = BuildOptions.usual(unit)
    if priced:
        options = replace(
            options,
            stock=tuple(StockLength(one.length, 5 * one.length) for one in options.stock),
            prices={"screw": 0.25, "clean-stone-20": 40.0, "no-such-thing": 1.0},
            currency="EUR",
            crew=Crew(people=2, wage=18.0, machine=Machine("digger", 3.0, 160.0)),
        )
    placement = plan.search.best.placement
    build = build_plan(
        plan.pad,
        placement.finish,
        edge_profile(plan.ground, plan.pad, placement),
        plan.earthwork,
        plan.soil,
        options=options,
        unit=unit,
        stakes=4,
    )
    return replace(plan, build=build), build


def rows(table: object) -> list[dict[str, str]]:
    """Read a table back as any program would."""
    return list(csv.DictReader(io.StringIO(csv_bytes(table).decode("utf-8"), newline="")))  # type: ignore[arg-type]


@pytest.mark.parametrize("unit", UNITS)
def test_cutting_table_when_read_back(unit: LengthUnit) -> None:
    """Every piece of the frame is there once, as long as it is drawn, on a timber that holds it."""
    plan, build = built(unit)
    assert build.edge is not None
    read = rows(cutting_table(plan))
    lengths = {row["piece"]: parse_length(row[f"cut to [{unit.value}]"], unit) for row in read}
    assert len(lengths) == len(read)
    assert lengths == pytest.approx({piece.mark: piece.length for piece in build.edge.pieces}, abs=STEP[unit])
    for number in {row["timber"] for row in read}:
        held = [row for row in read if row["timber"] == number]
        timber = parse_length(held[0][f"timber length [{unit.value}]"], unit)
        assert sum(lengths[row["piece"]] for row in held) <= timber + len(held) * STEP[unit]
        assert [bool(row[f"left over [{unit.value}]"]) for row in held] == [False] * (len(held) - 1) + [True]


@pytest.mark.parametrize("unit", UNITS)
def test_materials_table_when_read_back(unit: LengthUnit) -> None:
    """Every line is there with its quantity, and without prices there is no column for them."""
    plan, build = built(unit)
    read = rows(materials_table(plan))
    assert [(row["key"], float(row["quantity"])) for row in read] == [(m.key, m.quantity) for m in build.materials]
    assert not [name for name in read[0] if name.startswith(("price", "cost"))]
    assert {row["site"] for row in read} == {"Plum terrace"}


def test_materials_table_when_priced() -> None:
    """Prices and costs stand under their currency, blank where none was given; a price without use is told."""
    plan, build = built(priced=True)
    read = {row["key"]: row for row in rows(materials_table(plan))}
    screws = read["screw"]
    assert float(screws["cost [EUR]"]) == pytest.approx(0.25 * float(screws["quantity"]), abs=0.005)
    assert read["lag"]["price [EUR]"] == ""
    assert any("no-such-thing" in notice for notice in build.notices)


def test_hours_table_when_read_back() -> None:
    """One row for each task, low below likely below high, with the row to give a rate of one's own."""
    plan, build = built()
    read = rows(hours_table(plan))
    assert [row["task"] for row in read] == [task.name for task in build.hours.tasks]
    for row in read:
        assert float(row["low [h]"]) <= float(row["likely [h]"]) <= float(row["high [h]"])
        assert row["rate"]
    assert sum(int(row["share"].removesuffix("%")) for row in read) == pytest.approx(100, abs=len(read) / 2)


@pytest.mark.parametrize("table", [materials_table, cutting_table, hours_table])
def test_tables_when_nothing_is_built(table: Any) -> None:
    """A plan from before, or of another edge, has tables with headings and no rows."""
    assert rows(table(sample_plan(build=None))) == []


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize("priced", [False, True])
def test_document_when_checked_by_its_schema(unit: LengthUnit, priced: bool) -> None:
    """What is built is valid by the schema in every unit, with prices and without."""
    plan, build = built(unit, priced=priced)
    document = json.loads(plan_bytes(plan))
    jsonschema.Draft202012Validator(plan_schema()).validate(document)
    assert build.edge is not None
    scale = 1.0 if unit is LengthUnit.METRE else FOOT
    lengths = sum(piece["end"] - piece["start"] for piece in document["build"]["edge"]["pieces"])
    assert lengths * scale == pytest.approx(build.edge.timber_length)
    assert (document["build"]["money"] is None) is not priced
    for side in document["build"]["edge"]["sides"]:
        depths = side["trench"]["depths"]
        assert max(entry["depth"] for entry in depths) == side["trench"]["deepest"]
        assert depths[0]["distance"] == 0
        assert depths[-1]["distance"] == pytest.approx(side["length"])


def test_document_when_a_part_is_missing() -> None:
    """Every key of what is built is required."""
    plan, _ = built(priced=True)
    whole = plan_schema()
    schema = jsonschema.Draft202012Validator({"$ref": "#/$defs/build", "$defs": whole["$defs"]})
    document = plan_document(plan)["build"]
    schema.validate(document)

    def holders(value: Any) -> list[dict[str, Any]]:
        if isinstance(value, dict):
            return [value, *(found for inner in value.values() for found in holders(inner))]
        return holders(value[0]) if isinstance(value, list) and value else []

    checked = 0
    for holder in holders(document):
        for key in list(holder):
            kept = holder.pop(key)
            assert not schema.is_valid(document), key
            holder[key] = kept
            checked += 1
    assert checked > 100


def test_cutting_page_when_counted() -> None:
    """Every piece of the list is drawn once, to its length, inside its timber."""
    plan, build = built()
    assert build.cutting is not None
    page = cutting_page(build.cutting, title="t", unit=plan.units)
    drawn = {patch.get_gid(): patch for axes in page.axes for patch in axes.patches}
    pieces = [
        (mark, length) for one in build.cutting.timbers for mark, length in zip(one.marks, one.lengths, strict=True)
    ]
    assert sum(gid.startswith("stock:") for gid in drawn) == len(build.cutting.timbers)
    for mark, length in pieces:
        assert drawn[f"piece:{mark}"].get_width() == pytest.approx(length)  # type: ignore[attr-defined]
    assert sum(gid.startswith("piece:") for gid in drawn) == len(pieces)


def test_files_when_there_is_a_frame() -> None:
    """The drawings of the frame and the list are written where there is a frame, and only there, with hostile names."""
    plan, _ = built(name=HOSTILE)
    files = edge_drawings(plan)
    assert {"edge.svg", "edge.png", "cutting-list.svg"} == files.keys()
    assert b"<script>alert" not in files["edge.svg"]
    assert b"<script>alert" not in files["cutting-list.svg"]
    assert edge_drawings(sample_plan(build=None)) == {}
    bare = replace(plan, build=replace(plan.build, edge=None, cutting=None))  # type: ignore[type-var]
    assert edge_drawings(bare) == {}


def test_build_sheet_when_read() -> None:
    """The page holds every step, every line to buy, every task, every caution with its source, and both drawings."""
    plan, build = built(priced=True, overrides=("OVERRIDDEN",))
    page = build_sheet(plan).decode("utf-8")
    words = html.unescape(re.sub(r"<[^>]+>", "", page))
    for step in build.steps:
        assert step.text in words
        assert f"Check: {step.check}" in words
    for line in build.materials:
        assert line.what in words
        assert line.detail in words
    for task in build.hours.tasks:
        assert task.name in words
        assert task.source in words
    for caution in plan.cautions:
        assert caution.text in words
        assert f"({caution.source})" in words
    assert "OVERRIDDEN" in words
    assert "The digging with digger" in words
    assert page.count("<svg") == 2
    assert build.money is not None
    assert f"{build.money.materials:.2f} EUR" in words


def test_build_sheet_when_opened() -> None:
    """It is well-formed, fetches nothing, and no name that a user gives becomes markup."""
    plan, _ = built(name=HOSTILE)
    page = build_sheet(plan).decode("utf-8")
    assert HOSTILE not in page
    assert html.escape(HOSTILE) in page
    assert "<script" not in page
    assert not re.search(r'(?:src|href)="(?!#)', page.replace('xlink:href="#', 'href="#'))
    open_now: list[str] = []
    for closing, tag, own_end in re.findall(r"<(/?)([a-zA-Z][\w:]*)[^>]*?(/?)>", re.sub(r"<!.*?>", "", page)):
        if closing:
            assert open_now.pop() == tag
        elif not own_end and tag not in {"meta", "br"}:
            open_now.append(tag)
    assert open_now == []


def test_build_sheet_when_there_is_no_frame() -> None:
    """Another edge has no drawings, and still its steps, stone and hours."""
    plan, _ = built()
    bare = replace(plan, build=replace(plan.build, edge=None, cutting=None))  # type: ignore[type-var]
    page = build_sheet(bare).decode("utf-8")
    assert "<svg" not in page
    assert "Order of work" in page
    with pytest.raises(ValueError, match="does not say what is built"):
        build_sheet(replace(plan, build=None))
