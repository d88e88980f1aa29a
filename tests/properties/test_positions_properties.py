"""Positions: what goes out comes back, fits and ties agree with a general solver, and a plane stays a plane."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from spadework.positions import (
    Baseline,
    GridLabel,
    LabelGrid,
    Tape,
    bearing_and_distance,
    fit_positions,
    intersect_bearings,
    place_by_ties,
    place_by_two_ties,
    polar,
    read_label,
    slope_parts,
    stadia_parts,
    three_wires,
)
from spadework.positions.grid_labels import StationLabel, read_offset, read_station
from spadework.positions.ground_filter import ground_surface

coordinate = st.floats(-500.0, 500.0)
place = st.tuples(coordinate, coordinate)
bearing = st.floats(0.0, 359.99)
seeds = st.integers(0, 2**32 - 1)


@given(place, bearing, st.floats(0.01, 500.0))
def test_inverse_gives_back_the_ray_when_a_place_is_polar(start: tuple[float, float], turn: float, away: float) -> None:
    """Bearing and distance of the end of a ray are those it was laid out with."""
    east, north = polar(*start, turn, away)
    found, distance = bearing_and_distance(east - start[0], north - start[1])
    assert abs(float(distance) - away) < 1e-9
    assert abs((float(found) - turn + 180) % 360 - 180) * math.radians(1) * away < 1e-9


@given(place, place, place)
def test_lines_meet_at_the_place_when_it_was_sighted_from_two(
    first: tuple[float, float], second: tuple[float, float], wanted: tuple[float, float]
) -> None:
    """Bearings from two points to a third meet there, unless the three stand in a line."""
    one, two = np.subtract(wanted, first), np.subtract(wanted, second)
    area = abs(one[0] * two[1] - one[1] * two[0])
    assume(area > 0.05 * np.hypot(*one) * np.hypot(*two) and min(np.hypot(*one), np.hypot(*two)) > 0.1)
    found = intersect_bearings(
        first, float(bearing_and_distance(*one)[0]), second, float(bearing_and_distance(*two)[0])
    )
    assert math.dist(found, wanted) < 1e-6


@given(place, bearing, st.lists(place, min_size=1, max_size=6))
def test_places_come_back_when_put_by_station_and_offset(
    start: tuple[float, float], turn: float, places: list[tuple[float, float]]
) -> None:
    """Measuring along a baseline and placing by it undo each other."""
    line = Baseline(*start, turn, 100.0)
    spots = np.array(places)
    east, north = line.place(*line.measure(spots[:, 0], spots[:, 1]))
    np.testing.assert_allclose(np.column_stack([east, north]), spots, atol=1e-9)


@settings(deadline=None, max_examples=40)
@given(seeds, st.integers(2, 12), bearing, st.floats(0.9, 1.1), st.booleans())
def test_fit_is_that_of_a_general_solver_when_points_are_noisy(
    seed: int, count: int, turn: float, size: float, scale: bool
) -> None:
    """Shift, turn and scale in closed form have the least squares that an iterative solver finds."""
    rng = np.random.default_rng(seed)
    first = rng.uniform(-30, 30, (count, 2))
    assume(np.ptp(first, axis=0).max() > 2)
    angle = math.radians(turn)
    matrix = (size if scale else 1.0) * np.array(
        [[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]]
    )
    second = first @ matrix.T + rng.uniform(-100, 100, 2) + rng.normal(0, 0.02, (count, 2))
    fit = fit_positions(first, second, scale=scale)
    moved = np.column_stack(fit.apply(first[:, 0], first[:, 1]))
    np.testing.assert_allclose(moved - second, fit.residuals, atol=1e-9)

    def residuals(unknown: np.ndarray) -> np.ndarray:
        a, b, e, n = unknown if scale else (math.cos(unknown[0]), math.sin(unknown[0]), *unknown[1:])
        return (first @ np.array([[a, b], [-b, a]]).T + [e, n] - second).ravel()

    shift = second.mean(axis=0) - first.mean(axis=0)
    start = [matrix[0, 0], matrix[0, 1], *shift] if scale else [angle, *shift]
    other = least_squares(residuals, start, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
    assert float(np.sum(fit.residuals**2)) <= 2.0 * other.cost * (1 + 1e-6) + 1e-12
    np.testing.assert_allclose(residuals(other.x).reshape(-1, 2), fit.residuals, atol=2e-5)


@settings(deadline=None, max_examples=60)
@given(seeds, st.integers(3, 8))
def test_ties_are_those_of_a_general_solver_when_distances_are_noisy(seed: int, count: int) -> None:
    """Three distances or more: the place and its covariance are those of an iterative solver."""
    rng = np.random.default_rng(seed)
    known = rng.uniform(-20, 20, (count, 2))
    spread = np.linalg.svd(known - known.mean(axis=0), compute_uv=False)
    assume(spread[1] > 4)
    wanted = rng.uniform(-20, 20, 2)
    assume(np.hypot(*(known - wanted).T).min() > 1)
    taped = np.hypot(*(known - wanted).T) + rng.normal(0, 0.01, count)
    found = place_by_ties(known, taped)
    assert found is not None
    other = least_squares(lambda spot: np.hypot(*(spot - known).T) - taped, wanted, xtol=1e-14, ftol=1e-14, gtol=1e-14)
    np.testing.assert_allclose([found.east, found.north], other.x, atol=1e-6)
    np.testing.assert_allclose(found.residuals, other.fun, atol=1e-6)
    np.testing.assert_allclose(found.covariance, np.linalg.inv(other.jac.T @ other.jac), rtol=1e-4, atol=1e-9)


@given(place, place, place)
def test_both_crossings_keep_their_distances_when_two_ties_meet(
    first: tuple[float, float], second: tuple[float, float], wanted: tuple[float, float]
) -> None:
    """Either place lies at both distances, one on each side of the line, and one of them is the place taped."""
    assume(math.dist(first, second) > 0.5)
    one, two = math.dist(first, wanted), math.dist(second, wanted)
    pair = place_by_two_ties(first, one, second, two)
    assert pair is not None
    for spot, side in zip(pair, (-1, 1), strict=True):
        assert abs(math.dist(first, spot) - one) < 1e-6
        turn = (second[0] - first[0]) * (spot[1] - first[1]) - (second[1] - first[1]) * (spot[0] - first[0])
        assert side * turn > -1e-3
    # A place nearly on the line is the root of nearly nothing: there half the figures are lost.
    assert min(math.dist(wanted, spot) for spot in pair) < 1e-3


@given(st.integers(0, 701), st.integers(0, 998))
def test_label_is_read_when_written(column: int, row: int) -> None:
    """Every square A1 to ZZ999 comes back, with or without a hyphen, but for names that are no squares."""
    letters = "" if column < 26 else chr(ord("A") + column // 26 - 1)
    name = f"{letters}{chr(ord('A') + column % 26)}"
    label = GridLabel(column, row)
    for text in (f"{name}{row + 1}", f"{name.lower()}-{row + 1}"):
        assert read_label(text) == (None if name in {"BM", "TP", "CP", "HI", "SU"} else label)
    grid = LabelGrid(10.0, 20.0, 0.0, 2.0, 3.0)
    assert grid.place(label) == (10.0 + 2.0 * column, 20.0 + 3.0 * row)


@given(st.integers(0, 99_999), st.integers(0, 9_999), st.sampled_from("LR"), st.booleans())
def test_station_is_read_when_written(station: int, offset: int, side: str, before: bool) -> None:
    """Stations to a hundredth and offsets to a tenth come back, with the side before or after."""
    text = f"{station // 10_000}+{station % 10_000 // 100:02d}.{station % 100:02d}"
    aside = f"{side} {offset / 10:.1f}" if before else f"{offset / 10:.1f} {side}"
    label = read_label(f"{text} {aside}")
    assert isinstance(label, StationLabel)
    assert abs(label.station - station / 100) < 1e-9
    assert abs(label.offset - (offset / 10) * (-1 if side == "L" else 1)) < 1e-9


@given(st.text(max_size=30))
def test_any_name_is_a_label_or_none_when_read(text: str) -> None:
    """No name breaks the readers of labels."""
    assert read_label(text) is None or isinstance(read_label(text), GridLabel | StationLabel)
    assert read_station(text) is None or math.isfinite(read_station(text) or 0.0)
    assert read_offset(text) is None or math.isfinite(read_offset(text) or 0.0)


@given(st.floats(0.1, 100), st.floats(-60, 60), st.floats(1.0, 2.0))
def test_stadia_agrees_with_the_rod_when_it_is_cut_by_two_rays(away: float, tilt: float, half: float) -> None:
    """The reduction of an inclined stadia sight is that of two rays cutting an upright rod, for wires close together.

    A tilt of more turns the rod to the sight; the formula is exact to the square of the half angle between the wires,
    1 in 200: 25 parts in a million of the distance, times the square of the tangent.
    """
    centre = math.radians(tilt)
    wire = math.atan(half / 200.0)
    level = [away * math.tan(centre + side * wire) for side in (1, 0, -1)]
    found = three_wires(level[0] + 500, level[1] + 500, level[2] + 500)
    horizontal, _ = stadia_parts(found.interval, tilt, multiplier=100.0 / half)
    assert abs(float(horizontal) / away - 1.0) < 3e-5 * half**2 * (1 + 4 * math.tan(centre) ** 2) * 4


@given(st.floats(0.1, 100), st.floats(-80, 80))
def test_slope_parts_make_the_slope_again_when_squared(distance: float, slope: float) -> None:
    """Horizontal and rise have the length and the angle that were measured."""
    horizontal, rise = slope_parts(distance, slope)
    assert abs(math.hypot(float(horizontal), float(rise)) - distance) < 1e-9
    assert abs(math.degrees(math.atan2(float(rise), float(horizontal))) - slope) < 1e-9


@given(st.floats(1, 60), st.floats(-0.05, 0.05), st.floats(-20, 45))
def test_corrections_add_up_when_a_tape_is_wrong_in_several_ways(length: float, wrong: float, warm: float) -> None:
    """A right tape corrects nothing; each cause is proportional to the distance but sag, which is never positive."""
    assert float(Tape().corrected(length)) == length
    tape = Tape(actual=30 + wrong, temperature=warm, pull=60.0, standard_pull=50.0, area=3e-6, weight=0.2)
    one, two = tape.corrections(length), tape.corrections(2 * length)
    assert all(abs(float(two[name]) - 2 * float(one[name])) < 1e-9 for name in ("length", "temperature", "pull"))
    assert float(one["sag"]) <= 0.0
    assert abs(float(tape.corrected(length)) - length - sum(map(float, one.values()))) < 1e-12


@settings(deadline=None, max_examples=40)
@given(seeds, st.floats(-1.0, 1.0), st.floats(-1.0, 1.0))
def test_filter_leaves_a_plane_alone_when_nothing_stands_on_it(seed: int, east: float, north: float) -> None:
    """A plane of any slope, with gaps, comes out as it went in, and goes on under the gaps."""
    rng = np.random.default_rng(seed)
    row, column = np.mgrid[0:24, 0:30]
    level = 0.5 * (east * column + north * row)
    lowest = np.where(rng.uniform(size=level.shape) < 0.1, np.nan, level)
    found = ground_surface(lowest, 0.5)
    np.testing.assert_allclose(found, level, atol=1e-6)
