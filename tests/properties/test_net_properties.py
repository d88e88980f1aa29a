"""Level nets of any shape against a general-purpose library of statistics, and what must hold of every one of them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import sparse, stats

from books import level_book
from spadework.adjust.least_squares import (
    LeastSquares,
    UndeterminedError,
    _sparse,
    chi_square_limits,
    chi_square_share,
    solve_least_squares,
)
from spadework.levels import reduce_level_book, tolerance_rule
from spadework.levels.net import AdjustedNet, LevelLines, adjust_level_net

sm = pytest.importorskip("statsmodels.api", reason="the second opinion is in the extra 'test'")

RISE = st.integers(-3000, 3000).map(lambda millimetres: millimetres / 1000)
SD = st.integers(1, 20).map(lambda millimetres: millimetres / 1000)


@st.composite
def nets(draw: st.DrawFn) -> tuple[LevelLines, dict[str, float]]:
    """A net of 2 to 12 points: a tree that reaches them all, lines more, one to three bench marks; some lines twice."""
    count = draw(st.integers(2, 12))
    ends = [(draw(st.integers(0, point - 1)), point) for point in range(1, count)]
    more = st.tuples(st.integers(0, count - 1), st.integers(0, count - 1)).filter(lambda pair: pair[0] != pair[1])
    ends += draw(st.lists(more, min_size=1, max_size=15))
    marks = draw(st.sets(st.integers(0, count - 1), min_size=1, max_size=min(3, count - 1)))
    lines = LevelLines(
        tuple(f"P{start}" for start, _ in ends),
        tuple(f"P{end}" for _, end in ends),
        np.array([draw(RISE) for _ in ends]),
        sd=np.array([draw(SD) for _ in ends]),
    )
    return lines, {f"P{mark}": 100.0 + draw(RISE) for mark in sorted(marks)}


def adjusted(net: tuple[LevelLines, dict[str, float]]) -> AdjustedNet:
    """The net as the project adjusts it."""
    return adjust_level_net(*net, weights="sd")


def second_opinion(net: tuple[LevelLines, dict[str, float]]) -> tuple[list[str], object]:
    """The unknown points, and the library's weighted regression for them."""
    lines, known = net
    names = sorted({*lines.start, *lines.end} - set(known))
    design, observed = np.zeros((len(lines), len(names))), lines.rise.copy()
    for row, (start, end) in enumerate(zip(lines.start, lines.end, strict=True)):
        for name, sign in ((end, 1.0), (start, -1.0)):
            if name in known:
                observed[row] -= sign * known[name]
            else:
                design[row, names.index(name)] += sign
    assert lines.sd is not None
    return names, sm.WLS(observed, design, weights=1.0 / lines.sd**2).fit()


@given(nets())
@settings(deadline=None, max_examples=40)
def test_levels_when_a_library_of_statistics_has_them_too(net: tuple[LevelLines, dict[str, float]]) -> None:
    """Levels, standard errors, residuals, redundancies and the variance factor are those of a weighted regression."""
    names, fit = second_opinion(net)
    ours = adjusted(net)
    assume(ours.solution.degrees_of_freedom > 0 and fit.scale > 1e-12)  # type: ignore[attr-defined]
    rows = [ours.point.index(name) for name in names]
    assert ours.level[rows] == pytest.approx(fit.params, abs=1e-9)  # type: ignore[attr-defined]
    assert ours.standard_error[rows] == pytest.approx(fit.bse, rel=1e-6, abs=1e-12)  # type: ignore[attr-defined]
    assert ours.solution.residual == pytest.approx(-fit.resid, abs=1e-9)  # type: ignore[attr-defined]
    assert ours.solution.variance_factor == pytest.approx(fit.scale, rel=1e-6)  # type: ignore[attr-defined]
    weighted = fit.model.wexog  # type: ignore[attr-defined]
    hat = np.einsum("ij,jk,ik->i", weighted, np.linalg.pinv(weighted.T @ weighted), weighted)
    assert ours.solution.redundancy == pytest.approx(1.0 - hat, abs=1e-8)


@given(nets())
@settings(deadline=None, max_examples=40)
def test_redundancies_sum_to_the_degrees_of_freedom(net: tuple[LevelLines, dict[str, float]]) -> None:
    """Whatever the net, its lines share out what is left over."""
    solution = adjusted(net).solution
    assert solution.redundancy.sum() == pytest.approx(solution.degrees_of_freedom, abs=1e-8)


@given(nets(), st.floats(-50, 50))
@settings(deadline=None, max_examples=40)
def test_levels_shift_with_the_datum(net: tuple[LevelLines, dict[str, float]], shift: float) -> None:
    """Raising all bench marks raises every level by as much, and moves no residual."""
    lines, known = net
    low, high = adjusted(net), adjusted((lines, {name: level + shift for name, level in known.items()}))
    assert high.level - low.level == pytest.approx(np.full(len(low.level), shift), abs=1e-9)
    assert high.solution.residual == pytest.approx(low.solution.residual, abs=1e-9)


@given(nets())
@settings(deadline=None, max_examples=40)
def test_levels_stay_when_a_line_is_walked_backwards(net: tuple[LevelLines, dict[str, float]]) -> None:
    """A line from B to A with the opposite rise is the same observation."""
    lines, known = net
    back = LevelLines(
        (lines.end[0], *lines.start[1:]),
        (lines.start[0], *lines.end[1:]),
        np.concatenate([-lines.rise[:1], lines.rise[1:]]),
        sd=lines.sd,
    )
    one, other = adjusted(net), adjusted((back, known))
    assert [other.level_of(name) for name in one.point] == pytest.approx(one.level.tolist(), abs=1e-9)


@st.composite
def equations(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Observations with up to three unknowns each, not only differences."""
    columns = draw(st.integers(1, 8))
    rows = columns + draw(st.integers(0, 12))
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    design = np.where(random.random((rows, columns)) < 0.5, random.normal(size=(rows, columns)), 0.0)
    design[:columns] += np.eye(columns) * 3
    return design, random.normal(size=rows), random.uniform(0.2, 3.0, size=rows)


@given(equations())
@settings(deadline=None, max_examples=40)
def test_sparse_and_dense_agree_when_the_equations_are_any(
    case: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    """Both ways of solving give one answer, with the same standard errors and redundancies."""
    design, observed, sd = case
    assume(np.linalg.cond(design) < 1e4)
    dense = solve_least_squares(design, observed, sd)
    thin = _sparse(sparse.csr_array(design), observed, sd)
    for name in ("estimate", "residual", "cofactor", "redundancy"):
        assert getattr(thin, name) == pytest.approx(getattr(dense, name), abs=1e-7), name


@given(equations())
@settings(deadline=None, max_examples=40)
def test_residuals_stand_square_on_every_column(case: tuple[np.ndarray, np.ndarray, np.ndarray]) -> None:
    """What is left over is weighted square to whatever could have been explained: no better answer is near."""
    design, observed, sd = case
    solution: LeastSquares = solve_least_squares(design, observed, sd)
    assert (design / sd[:, None]).T @ (solution.residual / sd) == pytest.approx(np.zeros(design.shape[1]), abs=1e-8)


@given(st.floats(0.01, 80.0), st.integers(1, 60))
def test_chi_square_when_the_library_has_it(value: float, freedom: int) -> None:
    """Share and limits against the library's distribution."""
    assert chi_square_share(value, freedom) == pytest.approx(stats.chi2.sf(value, freedom), rel=1e-9, abs=1e-300)
    assert chi_square_limits(freedom) == pytest.approx(stats.chi2.ppf([0.025, 0.975], freedom), rel=1e-9)


@pytest.mark.parametrize("thin", [False, True], ids=["dense", "sparse"])
def test_unknowns_are_named_when_nothing_fixes_them(thin: bool) -> None:
    """Two points tied only to each other are both named; the one tied to the datum is not."""
    design = np.array([[1.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, -1.0], [0.0, -1.0, 1.0]])
    solve = _sparse if thin else solve_least_squares
    with pytest.raises(UndeterminedError) as caught:
        solve(sparse.csr_array(design) if thin else design, np.zeros(4), np.ones(4))
    assert set(caught.value.columns) <= {1, 2}
    assert caught.value.columns


@given(st.lists(st.integers(300, 3000), min_size=4, max_size=4), st.integers(-8, 8))
@settings(deadline=None, max_examples=40)
def test_loop_by_least_squares_is_the_loop_by_set_ups(readings: list[int], misclosure: int) -> None:
    """Where there is nothing but one run, adjusting all readings shares the misclosure equally over the set-ups."""
    first, second, third, fourth = (reading / 1000 for reading in readings)
    rows = [
        ("BM", first, None, None),
        ("T1", second, None, third),
        ("p", None, 1.0, None),
        ("BM2", None, None, fourth),
    ]
    known = {"BM": 100.0, "BM2": 100.0 + first - third + second - fourth + misclosure / 1000}
    rule = tolerance_rule("100 mm")
    shared = reduce_level_book(level_book(rows), known, tolerance=rule)
    net = reduce_level_book(level_book(rows), known, tolerance=rule, adjust="least-squares")
    assert net.level[[0, 1, 3]] == pytest.approx(shared.level[[0, 1, 3]], abs=1e-9)
    # The set-up itself takes three quarters of the way, between the two points that it joins.
    assert net.level[2] - shared.initial[2] == pytest.approx(0.75 * misclosure / 1000, abs=1e-9)
    assert net.fit is not None
    w = misclosure / 1000 / (2 * math.hypot(0.002, 0.001 / math.sqrt(12)))
    assert np.abs(net.fit.solution.standardised[[0, 1]]) == pytest.approx([abs(w)] * 2, abs=1e-6)
