"""A grid of spot levels from six set-ups, all open shots, with a slip in print and a reading that was booked wrong.

Student lab sheet "Higher Surveying Lab FW-8 Data and Results", scribd 202313858. BM = 40 m; three decimals.
Points 31 to 36 are left out: their readings were not seen.
"""

from __future__ import annotations

import pytest

from books import Cell, level_book, reduced
from spadework.levels import ReducedLevels

SET_UPS: list[tuple[str, float, dict[str, float]]] = [
    ("BM", 1.260, {"1": 1.12, "2": 1.235, "3": 1.39, "4": 1.21, "5": 1.17, "6": 1.49}),
    ("1", 1.120, {"7": 1.24, "8": 1.14, "9": 1.075, "10": 0.94}),
    ("6", 1.410, {"11": 1.14, "12": 1.07, "13": 0.94, "14": 0.88, "15": 1.685}),
    ("5", 1.685, {"16": 1.39, "17": 1.47, "18": 1.52, "19": 1.57, "20": 1.66}),
    ("20", 1.220, {"21": 1.15, "22": 1.11, "23": 1.03, "24": 0.97}),
    ("20", 1.180, {"25": 1.22, "26": 1.16, "27": 1.05, "28": 0.93, "29": 1.15, "30": 1.115}),
]
HEIGHTS = [41.260, 41.260, 41.180, 41.775, 41.335, 41.295]
PRINTED = dict(
    zip(
        (str(number) for number in range(1, 31)),
        (
            *(40.14, 40.025, 39.87, 40.05, 40.09, 39.77, 40.02, 40.12, 40.165, 40.32),
            *(40.04, 40.11, 40.24, 40.30, 39.495, 40.385, 40.305, 40.255, 40.205, 40.115),
            *(40.185, 40.225, 40.305, 40.365, 40.075, 40.135, 40.245, 40.365, 40.145, 40.18),
        ),
        strict=True,
    )
)
ROWS: list[tuple[str, Cell, Cell, Cell]] = [
    row
    for on, backsight, shots in SET_UPS
    for row in ((on, backsight, None, None), *((point, None, rod, None) for point, rod in shots.items()))
]
PRINTED_BY_ROW: list[Cell] = [None if backsight is not None else PRINTED[point] for point, backsight, _, _ in ROWS]


def typed() -> ReducedLevels:
    """The sheet as somebody types it, with its printed levels."""
    return reduced(level_book(ROWS, printed={"printed": PRINTED_BY_ROW}), {"BM": 40.0})


@pytest.mark.parametrize("point", [point for point in PRINTED if point != "9"])
def test_point_when_reduced(point: str) -> None:
    """Every printed level but that of point 9."""
    assert typed().level_of(point) == pytest.approx(PRINTED[point], abs=0.0005)


@pytest.mark.xfail(reason="point 9 recomputes to 40.185, printed is 40.165: a slip of 0.020", strict=True)
def test_point_9_when_printed() -> None:
    """The level of point 9 as printed."""
    assert typed().level_of("9") == pytest.approx(PRINTED["9"], abs=0.0005)


def test_heights_of_instrument_when_set_up_on_points_already_levelled() -> None:
    """Six set-ups: the bench mark, then points levelled as intermediate sights; two stand on point 20."""
    levels = typed()
    rows = [row for row, (_, backsight, _, _) in enumerate(ROWS) if backsight is not None]
    assert levels.hi[rows] == pytest.approx(HEIGHTS, abs=0.0005)
    assert levels.checks.agrees


def test_shots_when_nothing_closes_them() -> None:
    """All are open shots, and that is said once for all of them."""
    levels = typed()
    assert [run.kind for run in levels.runs] == ["open"]
    assert levels.runs[0].setups == 6
    assert sum("Nothing checks the levels" in notice for notice in levels.notices) == 1


def test_point_9_is_found_when_the_sheet_is_typed_in() -> None:
    """The printed level of point 9, with the right one."""
    told = [text for text in typed().suspects if "printed" in text]
    assert len(told) == 1
    assert told[0].startswith("line 12: 9 is printed as 40.165 m, but the readings give 40.185 m: 0.020 m too low")


def test_point_15_is_found_when_the_sheet_is_typed_in() -> None:
    """Point 15 equals the next backsight, 1.685, and lies far below all others: both are told, with its line."""
    told = [text for text in typed().suspects if "15" in text and "printed" not in text]
    assert any("IS 1.685 on 15 and the backsight 1.685 on 5 after it are the same figure" in text for text in told)
    assert any("line 19: 15 comes out at 39.495 m" in text and "below the middle" in text for text in told)


def test_no_other_point_is_doubted_when_the_sheet_is_typed_in() -> None:
    """Three sentences: the slip at 9, and two about 15."""
    assert len(typed().suspects) == 3
