"""A fit between two surveys: its errors in closed form and by a second implementation, and the point that is wrong."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import least_squares

from spadework.positions import fit_positions
from spadework.positions.fit_slips import find_fit_slips

COMMON = np.array([[12.34, 5.67], [31.20, 8.15], [27.85, 24.60], [9.75, 21.30], [18.42, 14.06]])


def other_axes(first: np.ndarray, turn: float = 30.0, *, noise: int | None = None) -> np.ndarray:
    """The same points in axes turned by some degrees and shifted, with a centimetre of noise."""
    angle = math.radians(turn)
    matrix = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    off = 0.0 if noise is None else np.random.default_rng(noise).normal(0, 0.01, first.shape)
    return first @ matrix.T + np.array([100.0, 50.0]) + off


def test_errors_are_those_of_the_closed_form_when_points_stand_in_a_square() -> None:
    """With n points of sd s at a distance r from their middle: shift s / sqrt(n), turn and scale s / (r sqrt(n))."""
    square = np.array([[3.0, 4.0], [-4.0, 3.0], [-3.0, -4.0], [4.0, -3.0]])
    fit = fit_positions(square, square + np.array([10.0, 20.0]), scale=True, sd=0.02)
    assert fit.solution is not None
    assert fit.solution.expected_sd == pytest.approx([0.01, 0.01, 0.002, 0.002])
    assert fit.solution.redundancy == pytest.approx(0.5)
    # At the middle the shift alone, at 10 m from it the turn across and the scale along besides.
    assert fit.position_sd([0.0, 10.0], [0.0, 0.0]) == pytest.approx([0.01, math.hypot(0.01, 0.02)])


@pytest.mark.parametrize("scale", [False, True])
@pytest.mark.parametrize("turn", [False, True])
def test_weighted_fit_is_that_of_a_general_solver(turn: bool, scale: bool) -> None:
    """Points of different sd: unknowns, residuals and covariance of an iterative solver."""
    sd = np.array([0.01, 0.05, 0.02, 0.01, 0.10])
    second = (
        other_axes(COMMON, 30.0 if turn else 0.0) + np.random.default_rng(4).normal(0, 1, COMMON.shape) * sd[:, None]
    )
    fit = fit_positions(COMMON, second, turn=turn, scale=scale, sd=sd)
    middle = np.array(fit.middle)

    def misfit(unknown: np.ndarray) -> np.ndarray:
        east, north, *rest = unknown
        angle = rest.pop(0) if turn else 0.0
        size = rest.pop(0) if scale else 1.0
        matrix = size * np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
        return (((COMMON - middle) @ matrix.T + [east, north] - second) / sd[:, None]).ravel()

    start = [fit.east, fit.north, *([math.radians(25)] if turn else []), *([1.0] if scale else [])]
    found = least_squares(misfit, start, xtol=1e-15, ftol=1e-15, gtol=1e-15)
    mine = [fit.east, fit.north, *([math.radians(fit.turn)] if turn else []), *([fit.scale] if scale else [])]
    assert mine == pytest.approx(found.x, abs=1e-8)
    assert fit.solution is not None
    assert fit.solution.covariance is not None
    np.testing.assert_allclose(fit.solution.covariance, np.linalg.inv(found.jac.T @ found.jac), rtol=1e-4, atol=1e-10)
    assert fit.solution.chi_square == pytest.approx(2 * found.cost)
    assert (fit.residuals / sd[:, None]).ravel() == pytest.approx(found.fun, abs=1e-6)


def test_nothing_is_accused_when_common_points_agree() -> None:
    """Eighty honest fits of five points: hardly one is called wrong, as once in a thousand allows."""
    accused = sum(bool(find_fit_slips(COMMON, other_axes(COMMON, noise=seed), np.full(5, 0.01))) for seed in range(80))
    assert accused <= 1


@pytest.mark.parametrize(
    ("axis", "written", "kind"),
    [(0, 13.24, "exchanged"), (1, 4.67, "whole"), (0, 22.34, "ten"), (1, 65.67, "dropped"), (0, 2.34, "dropped")],
    ids=["digits", "metre", "ten", "digit more", "digit less"],
)
def test_point_is_named_when_one_coordinate_is_wrong(axis: int, written: float, kind: str) -> None:
    """The first common point, (12.34, 5.67), with one coordinate written wrongly: it is named, with what was meant."""
    wrong = COMMON.copy()
    wrong[0, axis] = written
    slips = find_fit_slips(wrong, other_axes(COMMON, noise=1), np.full(5, 0.01))
    assert {slip.point for slip in slips} == {0}
    meant = [(slip.axis, round(slip.meant, 2)) for slip in slips]
    assert (axis, float(COMMON[0, axis])) in meant
    if kind != "dropped":
        assert slips[0].kind in (kind, "doubled")


def test_names_are_asked_about_when_two_points_changed_them() -> None:
    """The second and the fourth point bear each other's names."""
    wrong = COMMON.copy()
    wrong[[1, 3]] = wrong[[3, 1]]
    first = find_fit_slips(wrong, other_axes(COMMON, noise=2), np.full(5, 0.01))[0]
    assert (first.kind, first.point, first.other) == ("columns", 1, 3)


def test_point_is_asked_about_when_it_is_another_one() -> None:
    """A point 3.17 m aside in both coordinates is no slip of the pen: is it the same point?"""
    wrong = COMMON.copy()
    wrong[2] += [2.23, -2.26]
    first = find_fit_slips(wrong, other_axes(COMMON, noise=3), np.full(5, 0.01))[0]
    assert (first.kind, first.point) == ("other", 2)
    assert first.off == pytest.approx(math.hypot(2.23, 2.26), abs=0.05)
