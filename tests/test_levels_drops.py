"""Drops below a line over a taped grid."""

from __future__ import annotations

import numpy as np
import pytest

from spadework.errors import InputError
from spadework.levels import grid_label, reduce_drop_grid
from spadework.readings import DropGrid


def drop_grid(drop: list[list[float]]) -> DropGrid:
    """Columns 1.5 m apart, rows 2 m apart."""
    cells = np.array(drop)
    return DropGrid(
        across=np.arange(cells.shape[1]) * 1.5,
        along=np.arange(cells.shape[0]) * 2.0,
        drop=cells,
        line=np.arange(cells.shape[0]) + 2,
        file="drops.txt",
    )


def test_levels_when_drops_are_reduced() -> None:
    """Level is that of the line less the drop; cells without one are no shots."""
    shots = reduce_drop_grid(drop_grid([[0.2, 0.3], [np.nan, 0.5]]), line_level=10.0)
    assert shots.point == ("A1", "B1", "B2")
    assert shots.level == pytest.approx([9.8, 9.7, 9.5])
    assert shots.east == pytest.approx([0.0, 1.5, 1.5])
    assert shots.north == pytest.approx([0.0, 0.0, 2.0])
    assert shots.line.tolist() == [2, 2, 3]


def test_positions_when_the_grid_is_turned() -> None:
    """Along goes east at bearing 90, and across, to its right, goes south."""
    shots = reduce_drop_grid(drop_grid([[0.2, 0.3], [0.4, 0.5]]), line_level=10.0, origin=(5.0, 7.0), bearing=90.0)
    assert shots.east == pytest.approx([5.0, 5.0, 7.0, 7.0])
    assert shots.north == pytest.approx([7.0, 5.5, 7.0, 5.5])


@pytest.mark.parametrize(
    ("row", "column", "label"), [(0, 0, "A1"), (9, 25, "Z10"), (0, 26, "AA1"), (0, 51, "AZ1"), (0, 702, "AAA1")]
)
def test_label_when_columns_are_many(row: int, column: int, label: str) -> None:
    """After Z comes AA, as on any sheet of cells."""
    assert grid_label(row, column) == label


def test_drops_out_of_reach_when_typed_wrong() -> None:
    """Every one is named with its cell, its line and what was probably meant."""
    with pytest.raises(InputError) as caught:
        reduce_drop_grid(drop_grid([[0.2, 31.0], [450.0, 0.5]]), line_level=10.0)
    first, second = (str(fault) for fault in caught.value.faults)
    assert "drops.txt line 2" in first
    assert "B1" in first
    assert "Did you mean 3.100?" in first
    assert "A2" in second
    assert "Did you mean 4.500?" in second


def test_an_empty_grid_when_reduced() -> None:
    """No drop at all is refused."""
    with pytest.raises(InputError, match="has no drop"):
        reduce_drop_grid(drop_grid([[np.nan]]), line_level=10.0)
