"""One exact evaluation of cut and fill against the same done with a general geometry library, on growing ground.

Prints, for triangulations of 50, 500, 5 000 and 50 000 triangles of one yard, the time of one evaluation by the
compiled kernel, by numpy and by shapely on the same data in the same run, their ratios, and how they grow. Times are
never asserted; the volumes are. Run with ``pytest tests/benchmarks/test_bench_cut_fill.py -s``.
"""

import time
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest

import naive
from grounds import scattered
from spadework.earthwork import LevelRule, pad_levels_batch
from spadework.earthwork._compile import COMPILED
from spadework.pad import Pad, Placement

PAD = Pad.rectangle(5.4, 3.6)
POSE = (14.2, 19.7, 33.0)
FINISH = 52.0


def hilly(east: np.ndarray, north: np.ndarray) -> np.ndarray:
    """Ground that bends, so that every triangle has its own plane."""
    return 52 + 0.05 * (east - 14) - 0.03 * (north - 20) + 0.2 * np.sin(east / 3) * np.cos(north / 4)


def seconds(action: Callable[[], object], least: float = 0.1) -> float:
    """Best time of one run, over at least three runs and a tenth of a second."""
    best, spent, runs = float("inf"), 0.0, 0
    while runs < 3 or spent < least:
        start = time.perf_counter()
        action()
        took = time.perf_counter() - start
        best, spent, runs = min(best, took), spent + took, runs + 1
    return best


@pytest.fixture(scope="module")
def table() -> list[tuple[int, float, float, float, float]]:
    """Triangles, seconds by kernel (one pose, and per pose of a batch), by numpy and by shapely; volumes compared."""
    rows = []
    rule = LevelRule("fixed", finish=FINISH)
    pose = np.array([POSE])
    batch = np.repeat(pose, 2000, axis=0)
    for triangles in (50, 500, 5_000, 50_000):
        ground = scattered(triangles // 2 + 3, hilly, seed=5)
        corners = Placement(*POSE, FINISH).corners(PAD)
        found = pad_levels_batch(ground, PAD, pose, rule)  # builds the buckets and compiles before the clock starts
        cut, fill = naive.shapely_cut_fill(ground, corners, FINISH)
        assert found.cut[0] == pytest.approx(cut, abs=1e-11)
        assert found.fill[0] == pytest.approx(fill, abs=1e-11)
        assert cut > 0.1
        assert fill > 0.1
        numpy_found = pad_levels_batch(ground, PAD, pose, rule, use_compiled=False)
        assert numpy_found.cut[0] == pytest.approx(cut, abs=1e-11)
        rows.append(
            (
                ground.triangle_count,
                seconds(lambda g=ground: pad_levels_batch(g, PAD, pose, rule)),
                seconds(lambda g=ground: pad_levels_batch(g, PAD, batch, rule)) / len(batch),
                seconds(lambda g=ground: pad_levels_batch(g, PAD, pose, rule, use_compiled=False)),
                seconds(lambda g=ground, c=corners: naive.shapely_cut_fill(g, c, FINISH)),
            )
        )
    return rows


def test_cut_and_fill_equal_those_of_shapely(
    table: list[tuple[int, float, float, float, float]], capsys: pytest.CaptureFixture[str]
) -> None:
    """Equal volumes on every ground (asserted while measuring); times, ratios and growth are printed."""
    with capsys.disabled():
        print(f"\none cut and fill, pad 5.4 m x 3.6 m, yard 30 m x 40 m ({'compiled' if COMPILED else 'numpy only'})")
        print(
            " triangles | kernel, alone | kernel, of 2000 |    numpy |  shapely | shapely / alone | shapely / of 2000"
        )
        for count, alone, among, by_numpy, by_shapely in table:
            print(
                f"{count:10} | {alone * 1e6:10.0f} µs | {among * 1e6:12.1f} µs | {by_numpy * 1e3:5.2f} ms"
                f" | {by_shapely * 1e3:5.1f} ms | {by_shapely / alone:15.0f} | {by_shapely / among:12.0f}"
            )
        for name, column in (("kernel, of 2000", 2), ("shapely", 4)):
            steps = [f"{later[column] / earlier[column]:.1f}" for earlier, later in pairwise(table)]
            print(f"growth from ten times the triangles, {name}: {', '.join(steps)}")
    assert [row[0] > 0.9 * wanted for row, wanted in zip(table, (50, 500, 5_000, 50_000), strict=True)] == [True] * 4
