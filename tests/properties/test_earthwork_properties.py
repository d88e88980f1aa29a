"""What is true of cut and fill on any ground."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grounds import rough, scattered, shots_of
from spadework.earthwork import LevelRule, PadLevels, pad_levels_batch
from spadework.ground import Ground, triangulate_shots
from spadework.pad import Pad

PAD = Pad.rectangle(5.0, 3.4)
seeds = st.integers(0, 10_000)
bearings = st.floats(-720, 720)
easts, norths = st.floats(5, 25), st.floats(5, 35)
rules = st.one_of(
    st.builds(LevelRule, st.just("balanced"), keep=st.floats(0.3, 2), bought=st.floats(0, 5)),
    st.builds(LevelRule, st.just("weights"), cut_weight=st.floats(0.1, 5), fill_weight=st.floats(0.1, 5)),
    st.builds(LevelRule, st.just("flush")),
    st.builds(LevelRule, st.just("fixed"), finish=st.floats(51, 53)),
)


def work(ground: Ground, rule: LevelRule, east: float, north: float, bearing: float, pad: Pad = PAD) -> PadLevels:
    """One pose."""
    return pad_levels_batch(ground, pad, np.array([[east, north, bearing]]), rule)


def turned(ground: Ground, turn: float, shift: tuple[float, float], mirror: bool = False) -> Ground:
    """The same triangles on a site turned clockwise about its origin, moved, and mirrored east to west first."""
    east, north = ground.east + ground.origin[0], ground.north + ground.origin[1]
    east = -east if mirror else east
    sine, cosine = math.sin(math.radians(turn)), math.cos(math.radians(turn))
    origin = np.round(np.array(shift))
    return Ground(
        origin,
        east * cosine + north * sine + (shift[0] - origin[0]),
        north * cosine - east * sine + (shift[1] - origin[1]),
        ground.level,
        ground.triangles[:, [0, 2, 1]] if mirror else ground.triangles,
        ground.kind,
    )


@settings(max_examples=60, deadline=None)
@given(seeds, rules, easts, norths, bearings, st.floats(-360, 360), st.floats(-6e5, 6e5), st.booleans())
def test_moving_turning_and_mirroring_the_site_changes_nothing(
    seed: int, rule: LevelRule, east: float, north: float, bearing: float, turn: float, far: float, mirror: bool
) -> None:
    """Levels and volumes stay to 1e-9 when site and pose go together, up to 600 km away."""
    ground = scattered(60, rough(seed, 0.05), seed=seed)
    shift = (far, -far / 3)
    sine, cosine = math.sin(math.radians(turn)), math.cos(math.radians(turn))
    here = work(ground, rule, east, north, bearing)
    if mirror:
        east, bearing = -east, -bearing
    there = work(
        turned(ground, turn, shift, mirror),
        rule,
        east * cosine + north * sine + shift[0],
        north * cosine - east * sine + shift[1],
        bearing + turn,
    )
    for name in ("formation", "cut", "fill", "area", "ground_low", "edge_low", "edge_high"):
        assert getattr(there, name)[0] == pytest.approx(getattr(here, name)[0], abs=3e-9), name


@settings(max_examples=60, deadline=None)
@given(seeds, st.floats(51, 53), st.floats(-2, 2), easts, norths, bearings)
def test_raising_the_pad_changes_fill_less_cut_by_area_times_rise(
    seed: int, finish: float, rise: float, east: float, north: float, bearing: float
) -> None:
    """Fill minus cut is linear in the formation; cut never grows, fill never shrinks."""
    ground = scattered(60, rough(seed), seed=seed)
    low, high = sorted([finish, finish + rise])
    below, above = (work(ground, LevelRule("fixed", finish=level), east, north, bearing) for level in (low, high))
    change = (above.fill - above.cut) - (below.fill - below.cut)
    assert change[0] == pytest.approx(PAD.area * (high - low), abs=1e-11)
    assert above.cut[0] <= below.cut[0] + 1e-12
    assert above.fill[0] >= below.fill[0] - 1e-12


@settings(max_examples=60, deadline=None)
@given(seeds, st.floats(51, 53), easts, norths, bearings)
def test_swapping_ground_and_formation_swaps_cut_and_fill(
    seed: int, finish: float, east: float, north: float, bearing: float
) -> None:
    """Turned upside down, what was above is below."""
    ground = scattered(60, rough(seed), seed=seed)
    upside_down = Ground(ground.origin, ground.east, ground.north, -ground.level, ground.triangles, ground.kind)
    here = work(ground, LevelRule("fixed", finish=finish), east, north, bearing)
    there = work(upside_down, LevelRule("fixed", finish=-finish), east, north, bearing)
    assert there.cut[0] == pytest.approx(here.fill[0], abs=1e-11)
    assert there.fill[0] == pytest.approx(here.cut[0], abs=1e-11)


@settings(max_examples=60, deadline=None)
@given(seeds, easts, norths, bearings, st.floats(0.2, 3), st.floats(0.01, 3))
def test_the_more_is_kept_the_higher_the_balance(
    seed: int, east: float, north: float, bearing: float, keep: float, more: float
) -> None:
    """Raising keep raises the balanced formation; at it keep times cut is fill."""
    ground = scattered(60, rough(seed), seed=seed)
    low, high = (work(ground, LevelRule(keep=k), east, north, bearing) for k in (keep, keep + more))
    assert high.formation[0] >= low.formation[0] - 1e-12
    assert keep * low.cut[0] == pytest.approx(low.fill[0], abs=1e-11)


@settings(max_examples=60, deadline=None)
@given(seeds, easts, norths, bearings)
def test_a_pad_turned_end_for_end_is_the_same_pad(seed: int, east: float, north: float, bearing: float) -> None:
    """Half a turn of a rectangle changes nothing."""
    ground = scattered(60, rough(seed), seed=seed)
    here, there = (work(ground, LevelRule("weights"), east, north, b) for b in (bearing, bearing + 180))
    assert there.cut[0] == pytest.approx(here.cut[0], abs=1e-10)
    assert there.formation[0] == pytest.approx(here.formation[0], abs=1e-10)


@settings(max_examples=60, deadline=None)
@given(seeds, rules, easts, norths, bearings, st.floats(-50, 50))
def test_raising_the_datum_raises_every_level(
    seed: int, rule: LevelRule, east: float, north: float, bearing: float, rise: float
) -> None:
    """Levels go up with the datum, volumes stay; a fixed finish goes along."""
    ground = scattered(60, rough(seed), seed=seed)
    higher = Ground(ground.origin, ground.east, ground.north, ground.level + rise, ground.triangles, ground.kind)
    moved = LevelRule("fixed", finish=rule.finish + rise) if rule.kind == "fixed" else rule
    here, there = work(ground, rule, east, north, bearing), work(higher, moved, east, north, bearing)
    assert there.formation[0] - here.formation[0] == pytest.approx(rise, abs=1e-10)
    assert there.cut[0] == pytest.approx(here.cut[0], abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(seeds, st.integers(5, 200), st.floats(-0.3, 0.3), st.floats(-0.3, 0.3), easts, norths, bearings)
def test_refining_a_plane_changes_nothing(
    seed: int, more: int, rise_east: float, rise_north: float, east: float, north: float, bearing: float
) -> None:
    """Five shots or two hundred, a plane has the same cut and the same level."""

    def plane(e: np.ndarray, n: np.ndarray) -> np.ndarray:
        return 50 + rise_east * e + rise_north * n

    coarse, fine = scattered(5, plane, seed=seed), scattered(5 + more, plane, seed=seed + 1)
    rule = LevelRule(keep=0.8)
    here, there = work(coarse, rule, east, north, bearing), work(fine, rule, east, north, bearing)
    assert there.cut[0] == pytest.approx(here.cut[0], abs=1e-10)
    assert there.formation[0] == pytest.approx(here.formation[0], abs=1e-11)


@settings(max_examples=40, deadline=None)
@given(seeds, easts, norths, bearings, st.floats(0.1, 0.9))
def test_two_halves_of_a_pad_are_the_whole(seed: int, east: float, north: float, bearing: float, share: float) -> None:
    """Cut along its length anywhere, at one level, the volumes of the parts add up."""
    ground = scattered(60, rough(seed), seed=seed)
    rule = LevelRule("fixed", finish=52.0)
    length, width = 5.0, 3.4
    sine, cosine = math.sin(math.radians(bearing)), math.cos(math.radians(bearing))
    whole = work(ground, rule, east, north, bearing)
    cut = fill = 0.0
    for part, middle in ((share, share / 2 - 0.5), (1 - share, share / 2)):
        u = middle * length
        found = work(ground, rule, east + u * sine, north + u * cosine, bearing, Pad.rectangle(part * length, width))
        cut, fill = cut + float(found.cut[0]), fill + float(found.fill[0])
    assert cut == pytest.approx(whole.cut[0], abs=1e-11)
    assert fill == pytest.approx(whole.fill[0], abs=1e-11)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=3, max_size=40, unique=True), seeds)
def test_triangles_of_any_shots_fill_their_hull_without_overlap(places: list[tuple[int, int]], seed: int) -> None:
    """Shots on whole metres, many on one line or on one circle: areas add up to the hull, every shot is a corner."""
    from shapely.geometry import MultiPoint  # noqa: PLC0415 -- only this test needs it

    hull = MultiPoint(places).convex_hull
    if hull.area == 0:
        return
    east, north = np.array(places, dtype=np.float64).T
    ground = triangulate_shots(shots_of(east, north, np.random.default_rng(seed).uniform(0, 1, len(places))))
    assert (ground.triangle_areas > 0).all()
    assert ground.area == pytest.approx(hull.area, rel=1e-9)
    assert set(ground.triangles.ravel().tolist()) == set(range(len(places)))
    site = np.array(places, dtype=np.float64)
    np.testing.assert_allclose(ground.level_at(site), ground.level, rtol=0, atol=1e-9)
