"""Certified linear regressions through the project's own solver of least squares.

Source: National Institute of Standards and Technology, *Statistical Reference Datasets*, linear regression: Norris
(lower difficulty), Pontius (lower), Longley (higher); https://www.itl.nist.gov/div898/strd/lls/lls.shtml. The certified
values are printed with 15 digits; the data are decimals that binary numbers hold to 16, so that the last of the 15 may
differ. The data of Norris are those in the file that scipy ships; Longley and Pontius are typed here.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import scipy.stats

from spadework.adjust.least_squares import LeastSquares, solve_least_squares

LONGLEY = """
60323,83.0,234289,2356,1590,107608,1947
61122,88.5,259426,2325,1456,108632,1948
60171,88.2,258054,3682,1616,109773,1949
61187,89.5,284599,3351,1650,110929,1950
63221,96.2,328975,2099,3099,112075,1951
63639,98.1,346999,1932,3594,113270,1952
64989,99.0,365385,1870,3547,115094,1953
63761,100.0,363112,3578,3350,116219,1954
66019,101.2,397469,2904,3048,117388,1955
67857,104.6,419180,2822,2857,118734,1956
68169,108.4,442769,2936,2798,120445,1957
66513,110.8,444546,4681,2637,121950,1958
68655,112.6,482704,3813,2552,123366,1959
69564,114.2,502601,3931,2514,125368,1960
69331,115.7,518173,4806,2572,127852,1961
70551,116.9,554894,4007,2827,130081,1962
"""
PONTIUS = """
.11019,.21956,.32949,.43899,.54803,.65694,.76562,.87487,.98292,1.09146,1.20001,1.30822,1.41599,1.52399,1.63194,1.73947,
1.84646,1.95392,2.06128,2.16844,.11052,.22018,.32939,.43886,.54798,.65739,.76596,.87474,.98300,1.09150,1.20004,1.30818,
1.41613,1.52408,1.63159,1.73965,1.84696,1.95445,2.06177,2.16829
"""
# name: certified estimates, their standard deviations, residual standard deviation, residual sum of squares, R squared
CERTIFIED = {
    "Norris": (
        (-0.262323073774029, 1.00211681802045),
        (0.232818234301152, 0.429796848199937e-03),
        0.884796396144373,
        26.6173985294224,
        0.999993745883712,
    ),
    "Longley": (
        (
            -3482258.63459582,
            15.0618722713733,
            -0.0358191792925910,
            -2.02022980381683,
            -1.03322686717359,
            -0.0511041056535807,
            1829.15146461355,
        ),
        (
            890420.383607373,
            84.9149257747669,
            0.0334910077722432,
            0.488399681651699,
            0.214274163161675,
            0.226073200069370,
            455.478499142212,
        ),
        304.854073561965,
        836424.055505915,
        0.995479004577296,
    ),
    "Pontius": (
        (0.673565789473684e-03, 0.732059160401003e-06, -0.316081871345029e-14),
        (0.107938612033077e-03, 0.157817399981659e-09, 0.486652849992036e-16),
        0.205177424076185e-03,
        0.155761768796992e-05,
        0.999999900178537,
    ),
}
DIGITS = 2e-14
"""Half a unit of the fourteenth digit or less, of fifteen printed."""


def data(name: str) -> tuple[np.ndarray, np.ndarray]:
    """Design and observations."""
    if name == "Longley":
        table = np.array([[float(cell) for cell in line.split(",")] for line in LONGLEY.split()])
        return np.column_stack([np.ones(len(table)), table[:, 1:]]), table[:, 0]
    if name == "Pontius":
        load = np.tile(np.arange(1, 21) * 150_000.0, 2)
        return np.column_stack([np.ones(40), load, load**2]), np.array([float(cell) for cell in PONTIUS.split(",")])
    lines = (Path(scipy.stats.__file__).parent / "tests/data/nist_linregress/Norris.dat").read_text().splitlines()
    table = np.array([[float(cell) for cell in line.split()] for line in lines[60:96]])
    return np.column_stack([np.ones(len(table)), table[:, 1]]), table[:, 0]


def solved(name: str) -> LeastSquares:
    """The regression as the project solves it."""
    return solve_least_squares(*data(name))


@pytest.mark.parametrize("name", CERTIFIED)
def test_estimates_when_certified(name: str) -> None:
    """Every estimate, to the fourteenth digit."""
    assert solved(name).estimate == pytest.approx(CERTIFIED[name][0], rel=DIGITS)


@pytest.mark.parametrize("name", CERTIFIED)
def test_standard_errors_when_certified(name: str) -> None:
    """Every standard deviation of an estimate, and that of the residuals, to the twelfth digit or better."""
    solution = solved(name)
    _, deviations, spread, squares, _ = CERTIFIED[name]
    assert solution.standard_error == pytest.approx(deviations, rel=5e-13)
    assert np.sqrt(solution.variance_factor) == pytest.approx(spread, rel=5e-13)
    assert solution.chi_square == pytest.approx(squares, rel=1e-12)


@pytest.mark.parametrize("name", CERTIFIED)
def test_share_explained_when_certified(name: str) -> None:
    """R squared, from the residuals and the spread about the mean."""
    _, observed = data(name)
    total = float(np.sum((observed - observed.mean()) ** 2))
    assert 1 - solved(name).chi_square / total == pytest.approx(CERTIFIED[name][4], rel=1e-14)


def test_equations_lose_digits_that_the_solver_keeps() -> None:
    """The normal equations of Longley, solved as they stand, keep ten digits at most: the solver is not those."""
    design, observed = data("Longley")
    naive = np.linalg.solve(design.T @ design, design.T @ observed)
    certified = np.array(CERTIFIED["Longley"][0])
    assert np.abs(naive / certified - 1).max() > 1e-10 > np.abs(solved("Longley").estimate / certified - 1).max()
