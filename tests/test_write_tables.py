"""The tables: their headings, their figures in the user's unit, and how they are quoted."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from sample_plan import HOSTILE, sample_plan
from spadework.levels import reduce_level_book, tolerance_rule
from spadework.plan import Plan
from spadework.readings import LevelBook
from spadework.units import FOOT, LengthUnit, parse_length
from spadework.write.tables import csv_bytes, depths_table, levels_table, stakes_table

UNITS = list(LengthUnit)
HALF_STEP = {LengthUnit.METRE: 0.0005, LengthUnit.FOOT: FOOT / 200, LengthUnit.FOOT_INCH: FOOT / 12 / 16}
WHOLE_SHEET = ["site", "date", "datum", "overrides", "how", "cautions"]


def rows_of(table: pd.DataFrame) -> list[dict[str, str]]:
    """Read a table back as any program would."""
    return list(csv.DictReader(io.StringIO(csv_bytes(table).decode("utf-8"), newline="")))


def metres(text: str, unit: LengthUnit) -> float:
    """Read a printed length back."""
    return parse_length(text, unit)


@pytest.mark.parametrize("unit", UNITS)
def test_stakes_table_reads_back_to_the_stakes_in_every_unit(unit: LengthUnit) -> None:
    """Every length of every stake is there, in the unit that its heading states, to half a printed step."""
    plan = sample_plan(unit, hi=101.3)
    rows = rows_of(stakes_table(plan))
    assert [row["stake"] for row in rows][:5] == ["A", "B", "C", "D", "A/AB"]
    for row, stake in zip(rows, plan.stakeout.all_stakes, strict=True):
        strip = 0.0 if "/" in stake.name else 0.075  # offset stakes stand clear of the strip
        expected = {
            "east": stake.east,
            "north": stake.north,
            "ground": stake.ground_level,
            "stripped ground": stake.ground_level - strip,
            "formation": 99.92,
            "finish": 100.02,
            "cut after strip": max(stake.ground_level - strip - 99.92, 0),
            "fill after strip": max(99.92 - stake.ground_level + strip, 0),
            "dig in all": strip + max(stake.ground_level - strip - 99.92, 0),
            "tie from H1": np.hypot(stake.east - 2.0, stake.north - 16.8),
            "tie from H2": np.hypot(stake.east - 11.0, stake.north - 16.8),
            "HI": 101.3,
            "grade rod formation": 101.3 - 99.92,
            "grade rod finish": 101.3 - 100.02,
        }
        for name, value in expected.items():
            assert metres(row[f"{name} [{unit.value}]"], unit) == pytest.approx(value, abs=HALF_STEP[unit] * 1.001), (
                name
            )
        letter = {True: "C", False: "F"}[stake.ground_level - strip > 99.92]
        assert row["mark"].startswith(letter)


def test_stakes_table_says_how_sure_each_stake_is_and_when_it_is_set() -> None:
    """Third ties, expected errors, what an offset stake stands for, and the order, read back from the printed rows."""
    plan = sample_plan()
    rows = {row["stake"]: row for row in rows_of(stakes_table(plan))}
    for stake in plan.stakeout.all_stakes:
        row = rows[stake.name]
        assert float(row["expected error [m]"]) == pytest.approx(stake.expected_error, abs=0.00005001)
        assert row["third tie from"] == (stake.third.reference if stake.third else "")
    assert [rows[name]["set as number"] for name in plan.stakeout.order] == [str(i) for i in range(1, len(rows) + 1)]
    assert (rows["C/BC"]["kind"], rows["C/BC"]["measured from corner"]) == ("offset", "C")
    assert float(rows["C/BC"]["distance from that corner [m]"]) == 0.6
    assert (rows["A"]["kind"], rows["A"]["measured from corner"]) == ("corner", "")


def test_stakes_table_leaves_out_rods_and_ties_when_there_are_none() -> None:
    """Without an HI there is no column of rods, without references no column of ties."""
    plan = sample_plan()
    bare = replace(plan, stakeout=replace(plan.stakeout, references=()))
    names = list(stakes_table(bare).columns)
    assert not [name for name in names if "rod" in name or "tie" in name or "side" in name]


@pytest.mark.parametrize("unit", UNITS)
def test_depths_table_has_a_row_for_each_point_of_the_grid(unit: LengthUnit) -> None:
    """One row for each point on the pad, its depth to half a printed step."""
    plan = sample_plan(unit)
    grid = plan.stakeout.grid
    rows = rows_of(depths_table(plan))
    assert len(rows) == len(grid.along) * len(grid.across)
    last = rows[-1]
    assert metres(last[f"along from A [{unit.value}]"], unit) == pytest.approx(5.4, abs=HALF_STEP[unit] * 1.001)
    assert metres(last[f"across from A [{unit.value}]"], unit) == pytest.approx(3.6, abs=HALF_STEP[unit] * 1.001)
    ground = plan.ground.level_at(np.array([[plan.stakeout.stakes[2].east, plan.stakeout.stakes[2].north]]))[0]
    expected = ground - 0.075 - 99.92
    cut, fill = (metres(last[f"{name} after strip [{unit.value}]"], unit) for name in ("cut", "fill"))
    assert cut - fill == pytest.approx(expected, abs=HALF_STEP[unit] * 1.001)


def test_depths_table_leaves_out_points_off_the_pad() -> None:
    """Points of the grid where there is no pad have no row."""
    plan = sample_plan()
    grid = plan.stakeout.grid
    holed = grid.ground_level.copy()
    holed[0, 0] = np.nan
    table = depths_table(replace(plan, stakeout=replace(plan.stakeout, grid=replace(grid, ground_level=holed))))
    assert len(table) == holed.size - 1


def book_plan() -> Plan:
    """A plan whose levels come from a book of two set-ups: 100.000, back at 100.004 by arithmetic."""
    empty = np.full(4, np.nan)
    book = LevelBook(
        point=("BM1", "7", "TP1", "BM1"),
        backsight=np.array([1.500, np.nan, 1.210, np.nan]),
        intermediate=np.array([np.nan, 1.320, np.nan, np.nan]),
        foresight=np.array([np.nan, np.nan, 0.900, 1.806]),
        known=empty,
        distance=empty,
        note=("brass, bolt", "", "stone", ""),
        line=np.arange(2, 6),
        file="book.csv",
    )
    reduced = reduce_level_book(book, {"BM1": 100.0}, tolerance=tolerance_rule("10 mm"))
    return sample_plan(levels=(reduced,))


def test_levels_table_is_the_book_as_reduced() -> None:
    """HI 101.500 and 101.810; 100.180 and 100.600; closes 0.004 high, two set-ups, 2 mm taken off at each."""
    rows = rows_of(levels_table(book_plan()))
    assert [row["point"] for row in rows] == ["BM1", "7", "TP1", "BM1"]
    assert [row["HI [m]"] for row in rows] == ["101.5000", "", "101.8100", ""]
    assert [row["first level [m]"] for row in rows] == ["100.0000", "100.1800", "100.6000", "100.0040"]
    assert [row["correction [m]"] for row in rows] == ["0.0000", "-0.0020", "-0.0020", "-0.0040"]
    assert [row["level [m]"] for row in rows] == ["100.0000", "100.1780", "100.5980", "100.0000"]
    assert rows[0]["note"] == "brass, bolt"
    assert [row["line"] for row in rows] == ["2", "3", "4", "5"]


def test_levels_table_gives_the_position_of_a_point_that_is_a_shot() -> None:
    """Point 7 is a shot of the yard; the bench mark has no place."""
    plan = book_plan()
    rows = rows_of(levels_table(plan))
    assert plan.shots is not None
    assert float(rows[1]["east [m]"]) == pytest.approx(plan.shots.east[6])
    assert rows[0]["east [m]"] == ""


def test_levels_table_lists_the_shots_when_there_is_no_book() -> None:
    """Shots with levels of their own are listed with them."""
    plan = sample_plan()
    rows = rows_of(levels_table(plan))
    assert plan.shots is not None
    assert len(rows) == len(plan.shots)
    assert float(rows[11]["level [m]"]) == pytest.approx(plan.shots.level[11], abs=1e-9)


def test_levels_table_has_only_headings_when_ground_is_a_raster() -> None:
    """A raster has neither books nor shots."""
    table = levels_table(sample_plan(shots=None))
    assert len(table) == 0
    assert "level [m]" in table.columns


@pytest.mark.parametrize("make", [stakes_table, depths_table, levels_table])
def test_every_table_carries_what_belongs_to_the_sheet(make: object) -> None:
    """Name, date, datum and overrides stand in every row, how and cautions in the first; lengths state their unit."""
    plan = sample_plan(overrides=("Misclosure of 0.031 m let pass.",))
    rows = rows_of(make(plan))  # type: ignore[operator]
    for row in rows:
        assert row["site"] == "Plum terrace"
        assert row["date"] == "2026-04-18"
        assert row["datum"] == plan.datum
        assert row["overrides"] == "Misclosure of 0.031 m let pass."
    assert "rotary laser" in rows[0]["how"]
    assert "buried services" in rows[0]["cautions"]
    assert any(name.endswith("[m]") for name in rows[0])
    assert list(rows[0])[-6:] == WHOLE_SHEET


def test_csv_bytes_quotes_by_the_standard_when_words_are_awkward() -> None:
    """Commas, quotes and line ends inside a field survive; every line ends in CR LF (RFC 4180, section 2)."""
    awkward = 'say "12\' 6", then\nstop; ' + HOSTILE
    plan = sample_plan(name=awkward)
    written = csv_bytes(stakes_table(plan))
    rows = list(csv.reader(io.StringIO(written.decode("utf-8"), newline=""), strict=True))
    assert len(rows) == 1 + len(plan.stakeout.all_stakes)
    assert len({len(row) for row in rows}) == 1
    assert rows[1][rows[0].index("site")] == awkward
    assert written.endswith(b"\r\n")
    assert written.count(b"\r\n") == len(rows)
