"""``spadework plan``: rods for today's height of instrument."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from command_line import run

SAMPLES = Path(__file__).parents[1] / "sample_surveys"


def test_rods_follow_when_todays_bench_reading_is_given(tmp_path: Path) -> None:
    """HI = level + reading, rod = HI - level (NAVEDTRA 14069, figure 14-36), on the screen and in plan.json."""
    done = run("plan", SAMPLES / "laser-yard", "--out", tmp_path / "out", "--bench-reading", "1.352", drawn=False)
    assert done.status == 0
    plan = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    assert plan["hi"] == pytest.approx(101.352, abs=1e-12)
    for stake in plan["stakes"]:
        assert stake["grade_rod"] == pytest.approx(101.352 - stake["formation"], abs=1e-9)
    assert "With the instrument at 101.352 m the rod reads" in done.out


def test_two_heights_of_instrument_are_refused(tmp_path: Path) -> None:
    """--hi and --bench-reading together are a fault of the call, and nothing is written."""
    done = run("plan", SAMPLES / "laser-yard", "--out", tmp_path / "out", "--bench-reading", "1.352", "--hi", "101")
    assert done.status == 2
    assert "one of them" in done.err
    assert not (tmp_path / "out").exists()
