"""An earlier plan read back from plan.json, and what is said of a file that is none."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sample_plan import sample_plan
from spadework.errors import InputError
from spadework.fieldcheck import Stage
from spadework.read.plan_document import read_plan_document
from spadework.units import LengthUnit
from spadework.write.plan_json import plan_bytes, plan_document


@pytest.mark.parametrize("unit", LengthUnit)
def test_plan_comes_back_as_it_was(tmp_path: Path, unit: LengthUnit) -> None:
    """Pad, placement, stakes, bench mark and build-up come back in metres, whatever the unit."""
    plan = sample_plan(unit)
    (tmp_path / "plan.json").write_bytes(plan_bytes(plan))
    for path in (tmp_path, tmp_path / "plan.json"):
        wanted = read_plan_document(path)
        assert (wanted.name, wanted.date, wanted.units) == (plan.name, plan.date, unit)
        assert wanted.pad.outline == pytest.approx(plan.pad.outline, abs=1e-12)
        assert wanted.pad.strip == pytest.approx(plan.pad.strip, abs=1e-12)
        assert [layer.material for layer in wanted.pad.build_up.layers] == ["clean-stone-20"]
        assert wanted.formation == pytest.approx(plan.search.best.formation, abs=1e-9)
        assert wanted.bench == ("BM1", pytest.approx(100.0))
        for stake in plan.stakeout.stakes:
            assert wanted.stake(stake.name.lower()) == pytest.approx((stake.east, stake.north), abs=1e-9)


def test_ground_comes_back_from_the_grid_and_the_stakes(tmp_path: Path) -> None:
    """At the points of the depth grid and at the stakes the ground is that of the plan."""
    plan = sample_plan()
    (tmp_path / "plan.json").write_bytes(plan_bytes(plan))
    ground = read_plan_document(tmp_path).ground
    assert ground is not None
    grid = plan.stakeout.grid
    points = np.column_stack([grid.east.ravel(), grid.north.ravel()])
    wanted = read_plan_document(tmp_path)
    strip = wanted.levels_at(Stage("strip", "strip"), points)
    assert strip == pytest.approx(grid.ground_level.ravel() - plan.pad.strip, abs=1e-6)


def broken(change: Callable[[dict[str, Any]], object]) -> bytes:
    """The document of a plan with one thing changed."""
    document = plan_document(sample_plan())
    change(document)
    return json.dumps(document).encode()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "no JSON"),
        (b"{", "no JSON"),
        (b"\xff\xfe\x00", "no text"),
        (b"[" * 100_000, "no"),
        (b"[1, 2]", "not a plan"),
        (b'{"type": "FeatureCollection"}', "not a plan"),
        (broken(lambda plan: plan["format"].update(version=99)), "format version 99"),
        (broken(lambda plan: plan.pop("placement")), "placement.east is missing"),
        (broken(lambda plan: plan["placement"].update(finish="high")), "placement.finish is 'high'"),
        (broken(lambda plan: plan["placement"].update(bearing=True)), "placement.bearing is True"),
        (broken(lambda plan: plan["pad"].update(corners=[])), "the pad has 0 corners"),
        (broken(lambda plan: plan["placement"].update(finish=float("nan"))), "placement.finish is not a number"),
        (broken(lambda plan: plan["placement"].update(east=10**400)), "placement.east is not a number"),
        (broken(lambda plan: [corner.update(u=0.0) for corner in plan["pad"]["corners"]]), "the pad has no area"),
        (broken(lambda plan: plan["units"].update(printed_length="rods")), "units.printed_length is 'rods'"),
        (broken(lambda plan: plan["units"].update(length="ft")), "units.length is 'ft'"),
        (broken(lambda plan: plan["stakes"][0].update(name=None)), "stakes.0.name is null"),
        (broken(lambda plan: plan["stakes"][1].update(east=[])), "stakes.1.east is a list of 0"),
    ],
)
def test_file_is_refused_when_it_is_no_plan(tmp_path: Path, content: bytes, said: str) -> None:
    """What is wrong is named with its place in the document, and the file."""
    file = tmp_path / "plan.json"
    file.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_plan_document(file)
    assert said in str(caught.value)
    assert str(file) in str(caught.value)


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    """Two wrong values are two faults of one error."""

    def change(plan: dict[str, Any]) -> None:
        plan["placement"].update(east=None, north="far")

    (tmp_path / "plan.json").write_bytes(broken(change))
    with pytest.raises(InputError) as caught:
        read_plan_document(tmp_path)
    assert len(caught.value.faults) == 2


def test_plan_is_asked_for_when_there_is_none(tmp_path: Path) -> None:
    """A folder without a plan says what to give."""
    with pytest.raises(InputError, match="Give --plan DIR"):
        read_plan_document(tmp_path)
