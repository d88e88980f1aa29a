"""How sure each level is, by hand: variances add along a chain, and share where a loop checks them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from books import level_book, reduced, rod_list
from spadework.errors import InputError
from spadework.levels import reduce_level_book, reduce_rod_list, tolerance_rule
from spadework.levels.fit import Precision, fit_sentence, instrument_precision
from spadework.levels.net import LevelLines, adjust_level_net

ROUNDING = 0.001 / math.sqrt(12)
SIGMA = math.hypot(0.002, ROUNDING)


def test_variances_add_when_nothing_checks_the_chain() -> None:
    """After k set-ups a level carries 2 k readings."""
    rows = [("BM", 1.5, None, None), ("T1", 1.4, None, 1.3), ("T2", 1.2, None, 1.1), ("P", None, 1.0, None)]
    levels = reduced(level_book(rows), {"BM": 10.0})
    assert levels.level_sd is not None
    assert levels.level_sd == pytest.approx(SIGMA * np.sqrt([0, 2, 4, 6]))
    assert levels.fit is not None
    assert levels.fit.verdict == "unchecked"
    assert "nothing is left over to check them" in fit_sentence(levels.fit)


def test_variances_share_when_a_loop_closes() -> None:
    """The turning point of a loop of two set-ups is reached from both sides: half the variance of one side."""
    rows = [("BM", 1.5, None, None), ("T1", 1.4, None, 1.3), ("BM", None, None, 1.6)]
    levels = reduced(level_book(rows), {"BM": 10.0})
    assert levels.level_sd is not None
    assert levels.level_sd == pytest.approx([0.0, SIGMA, 0.0])


def test_levels_widen_when_the_readings_agree_worse_than_promised() -> None:
    """A misclosure m over four readings: variance factor m^2 / 4 sigma^2, and every sd times its root."""
    rows = [("BM", 1.5, None, None), ("T1", 1.4, None, 1.3), ("BM", None, None, 1.590)]
    levels = reduced(level_book(rows), {"BM": 10.0}, "20 mm")
    assert levels.fit is not None
    assert levels.fit.verdict == "worse"
    assert levels.fit.widening == pytest.approx(0.010 / (2 * SIGMA))
    assert levels.level_sd is not None
    assert levels.level_sd[1] == pytest.approx(0.010 / 2)
    assert "agree WORSE" in fit_sentence(levels.fit)


def test_precision_is_that_of_the_instrument() -> None:
    """A hand level is good to 15 mm, and a figure of one's own counts as it stands."""
    rows = [("BM", 1.5, None, None), ("P", None, 1.0, None)]
    for precision, sd in ((instrument_precision("hand-level"), 0.015), (Precision(0.004), 0.004)):
        levels = reduce_level_book(level_book(rows), {"BM": 1.0}, tolerance=tolerance_rule(), precision=precision)
        assert levels.level_sd is not None
        assert levels.level_sd[1] == pytest.approx(math.sqrt(2) * math.hypot(sd, ROUNDING))


def test_repeated_point_has_one_level_when_adjusted_by_least_squares() -> None:
    """P is read from two set-ups that share the bench mark: the mean, with half the variance of one."""
    rows = [
        ("S1", "BM", None, None, 1.500),
        ("S1", "P", 1.0, 1.0, 1.200),
        ("S2", "BM", None, None, 1.700),
        ("S2", "P", 1.0, 1.0, 1.404),
    ]
    shots, levels = reduce_rod_list(rod_list(rows), {"BM": 50.0}, tolerance=tolerance_rule(), adjust="least-squares")
    assert shots.level == pytest.approx([50.298])
    assert shots.level_sd == pytest.approx([SIGMA])
    assert levels.level[[1, 3]] == pytest.approx([50.298, 50.298])


def test_bench_marks_are_held_when_there_are_several() -> None:
    """Two bench marks, a run over both: the point between lies where the weights put it, the marks where they are."""
    rows = [("BM1", 1.0, None, None), ("P", None, 1.0, None), ("BM2", None, None, 1.006)]
    levels = reduced(level_book(rows), {"BM1": 10.0, "BM2": 10.0}, adjust="least-squares")
    # The line of sight is 11.000 by one mark and 11.006 by the other.
    assert levels.level == pytest.approx([10.0, 10.003, 10.0])


def test_long_set_up_takes_more_when_weights_go_by_distance() -> None:
    """Over 100 m and 300 m the correction goes as 1 to 3, but for the rounding of the readings."""
    rows = [("BM", 1.5, None, None), ("T1", 1.4, None, 1.3), ("BM2", None, None, 1.592)]
    book = level_book(rows, distance=[0.0, 100.0, 400.0])
    by_distance = reduce_level_book(
        book,
        {"BM": 10.0, "BM2": 10.0},
        tolerance=tolerance_rule("20 mm"),
        adjust="least-squares",
        precision=Precision(0.02, "distance"),
    )
    assert by_distance.level[1] == pytest.approx(10.2 - 0.008 / 4, abs=2e-6)


def test_distances_are_asked_for_when_weights_go_by_them() -> None:
    """A book without distances is refused with the way out."""
    rows = [("BM", 1.5, None, None), ("T1", 1.4, None, 1.3), ("BM", None, None, 1.6)]
    with pytest.raises(InputError, match=r"weighting by distance.*or weight by set-ups"):
        reduce_level_book(
            level_book(rows),
            {"BM": 10.0},
            tolerance=tolerance_rule(),
            adjust="least-squares",
            precision=Precision(0.002, "distance"),
        )


def test_net_names_every_fault_at_once() -> None:
    """A line without an end, one that goes nowhere, one without weight: all told together."""
    lines = LevelLines(("A", "B", "C"), ("", "b", "D"), np.array([1.0, 2.0, np.nan]), setups=np.array([1.0, 1.0, 0.0]))
    with pytest.raises(InputError) as caught:
        adjust_level_net(lines, {"A": 1.0})
    assert len(caught.value.faults) == 4


def test_net_asks_when_points_hang_on_nothing() -> None:
    """A misspelt bench mark leaves the net hanging, and the message offers the name that was meant."""
    lines = LevelLines(("BM1", "P"), ("P", "Q"), np.array([1.0, 2.0]), setups=np.ones(2))
    with pytest.raises(InputError, match=r"no line ties BM1, P, Q to a point of known level.*Did you mean 'BM1'"):
        adjust_level_net(lines, {"BMl": 1.0})
    with pytest.raises(InputError, match="have no distances"):
        adjust_level_net(lines, {"BM1": 1.0}, weights="distance")


def test_net_of_known_points_only_checks_them() -> None:
    """A line between two bench marks adjusts nothing, and shows by how much it misses."""
    lines = LevelLines(("BM1",), ("BM2",), np.array([1.003]), setups=np.ones(1))
    net = adjust_level_net(lines, {"BM1": 1.0, "BM2": 2.0})
    assert net.level == pytest.approx([1.0, 2.0])
    assert net.solution.residual == pytest.approx([-0.003])
    assert net.solution.redundancy == pytest.approx([1.0])


def test_long_sights_are_told_when_the_earth_shows() -> None:
    """Over 300 m the earth less the air makes 6 mm; over 100 m less than the millimetre that is read."""
    rows = [("BM", 1.5, None, None), ("T1", 1.4, None, 1.3), ("BM", None, None, 1.6)]
    far = reduced(level_book(rows, distance=[0.0, 100.0, 400.0]), {"BM": 10.0})
    (notice,) = [notice for notice in far.notices if "curves away" in notice]
    assert notice.startswith("The set-up on T1 (line 3) reaches over 300.000 m")
    # 0.86 x 300^2 / (2 x 6372149) = 0.00607 by the formula of the textbooks.
    assert "up to 0.006 m" in notice
    near = reduced(level_book(rows, distance=[0.0, 100.0, 200.0]), {"BM": 10.0})
    assert not [notice for notice in near.notices if "curves away" in notice]
