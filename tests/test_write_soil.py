"""The table, the drawing and the document of which soil goes where agree with one another."""

from __future__ import annotations

import csv
import io

import pytest
from matplotlib.text import Annotation

from sample_sites import plan_of
from spadework.write.haul_json import haul_document
from spadework.write.plan_json import plan_document
from spadework.write.soil_drawing import SMALLEST, load_words, soil_page
from spadework.write.soil_table import soil_moves_table
from spadework.write.tables import csv_bytes


@pytest.mark.parametrize("name", ["laser-yard", "string-grid"])
def test_table_adds_up_to_the_soil_account(name: str) -> None:
    """Bank volumes add up to the cut and what the trench leaves, compacted ones to the fill less what is spared."""
    plan = plan_of(name)
    rows = list(csv.DictReader(io.StringIO(csv_bytes(soil_moves_table(plan)).decode("utf-8-sig"))))
    assert [row["order"] for row in rows] == [str(i + 1) for i in range(len(rows))]
    cubic = 1.0 if plan.units.value == "m" else 0.764554857984
    unit = "m³" if plan.units.value == "m" else "yd³"
    bank = sum(float(row[f"in the bank [{unit}]"]) for row in rows if row["from"].startswith("the "))
    compacted = sum(float(row[f"compacted [{unit}]"]) for row in rows if row["to"].startswith("the "))
    rounding = 0.0005 * len(rows)
    keep = 1.0 - plan.soil.factors.shrink
    trench = plan.soil.trench_bank.likely - plan.soil.packed_compacted.likely / keep
    assert bank == pytest.approx((plan.earthwork.cut + trench) / cubic, abs=rounding)
    made_up = plan.earthwork.fill - plan.soil.spared_compacted.likely
    assert compacted == pytest.approx(made_up / cubic, abs=rounding)


@pytest.mark.parametrize("name", ["laser-yard", "string-grid"])
def test_drawing_has_an_arrow_for_each_move_worth_one(name: str) -> None:
    """Half a load and more to another zone, and no other, gets an arrow from where it is dug to where it goes."""
    plan = plan_of(name)
    assert plan.haul is not None
    axes = soil_page(plan).axes[0]
    arrows = {(a.xyann, a.xy) for a in axes.texts if isinstance(a, Annotation) and a.arrow_patch is not None}
    wanted = {(m.start_at, m.end_at) for m in plan.haul.moves if m.start != m.end and m.loads >= SMALLEST}
    assert arrows == wanted


def test_document_says_what_the_haul_is() -> None:
    """Loads times way is never less than what is proved least, and moves and heaps are all there."""
    plan = plan_of("laser-yard")
    found = plan_document(plan)["haul"]
    assert plan.haul is not None
    assert len(found["moves"]) == len(plan.haul.moves)
    assert [heap["name"] for heap in found["heaps"]] == [heap.name for heap in plan.haul.heaps]
    assert found["barrow_lengths"] >= found["least_barrow_lengths"] * (1 - 1e-12)
    assert haul_document(None, None) is None  # type: ignore[arg-type] -- nothing to turn into units


@pytest.mark.parametrize(
    ("loads", "words"),
    [(0.2, "part of a load"), (0.5, "1 load"), (1.4, "1 load"), (1.6, "2 loads"), (13.7, "14 loads")],
)
def test_loads_are_said_in_whole_ones(loads: float, words: str) -> None:
    """Nobody counts tenths of a barrow, and half of one still takes a walk."""
    assert load_words(loads) == words
