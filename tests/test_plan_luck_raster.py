"""Luck in the choice of a spot on a raster: grounds that it allows, what they make of a choice, and what is said."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from unittest import mock

import numpy as np
import pytest

from command_line import run
from spadework.confidence import GroundStudy
from spadework.confidence.luck import weigh_luck
from spadework.confidence.luck_raster import raster_grounds
from spadework.confidence.luck_words import luck_sentences
from spadework.ground import raster_ground
from spadework.ground.raster_doubt import RasterAccuracy, RasterDoubt, second_misses
from spadework.ground.raster_simulate import simulate_raster
from spadework.ground.raster_sureness import raster_doubt
from spadework.ground.simulate import Lattice
from spadework.pad import Pad
from spadework.placement import GOALS, Limits, SearchResult, find_placement
from spadework.plan_luck import with_luck
from spadework.readings import RasterReading
from spadework.units import LengthUnit

SAMPLE = Path(__file__).parents[1] / "sample_surveys" / "paddock-raster"
PAD, LIMITS = Pad.rectangle(5.0, 3.5), Limits(boundary=(np.array([[0.0, 0], [19, 0], [19, 15], [0, 15]]),))
NOISE, SHIFT = 0.05, 0.08


def reading(noise: float = NOISE, seed: int = 1, turn: float = 0.0) -> RasterReading:
    """A raster of 20 by 16 cells of 1 m of a gentle hollow, with noise in each cell, perhaps turned."""
    east, north = np.meshgrid(np.arange(20.0), np.arange(15.0, -1.0, -1.0))
    error = noise * np.random.default_rng(seed).standard_normal(east.shape)
    level = 50 + 0.02 * east + 0.0005 * (east - 9) ** 2 + error
    sine, cosine = math.sin(turn), math.cos(turn)
    return RasterReading(cosine * east - sine * north, sine * east + cosine * north, level, cell=1.0)


def doubt_of(raster: RasterReading, noise: float = NOISE) -> RasterDoubt:
    """Its doubt by a noise and a shift."""
    said = RasterAccuracy(math.hypot(noise, SHIFT), noise, "as it is said")
    found = raster_doubt(raster_ground(raster), raster.level, 1.0, said)
    assert found is not None
    return found


def searched(raster: RasterReading) -> SearchResult:
    """A search on it, without a proof."""
    return find_placement(raster_ground(raster), PAD, LIMITS, GOALS["digging"], 0.9)


@pytest.fixture(scope="module")
def search() -> SearchResult:
    """The search on the raster with noise."""
    return searched(reading())


def test_grounds_drawn_on_a_grid_have_the_covariance_that_is_promised() -> None:
    """Shift, noise, ground within cells and tilt, drawn each by itself, make the covariance of the closed form."""
    plane = np.diag([0.02, 0.002, 0.003]) ** 2
    ground = raster_ground(reading())
    doubt = RasterDoubt(ground, 1.0, 0.05, 0.03, shift=0.04, plane=plane, middle=np.array([9.0, 7.0]))
    lattice = Lattice.over((5.0, 5.0, 7.0, 6.5), 0.7)
    drawn, points = simulate_raster(doubt, lattice, 6000, seed=3), lattice.points
    wanted = doubt.between(points)
    assert drawn.mean(axis=0) == pytest.approx(ground.level_at(points), abs=5 * math.sqrt(wanted.max() / 6000))
    # The error of a covariance of n drawn is (c_ii c_jj + c_ij²) / n, at most.
    assert np.abs(np.cov(drawn.T) - wanted).max() < 5 * math.sqrt(2 / 6000) * wanted.max()


def test_grid_beyond_the_raster_has_the_level_of_the_nearest_cell() -> None:
    """A pad at the rim has levels all about its points."""
    doubt = RasterDoubt(raster_ground(reading()), 1.0, 0.0, 0.0)
    lattice = Lattice(-2.0, 3.0, 1.0, 2, 2)
    assert simulate_raster(doubt, lattice, 1)[0, :2] == pytest.approx(reading().level[12, 0])


@pytest.mark.parametrize("turn", [0.0, 0.4])
def test_misses_of_neighbours_are_those_of_white_noise_and_none_of_a_plane(turn: float) -> None:
    """A cell less the mean of two has √1.5 of the noise, however the raster is turned; a plane has no miss."""
    raster = reading(turn=turn)
    places = np.column_stack([raster.east.ravel(), raster.north.ravel()])
    found = second_misses(places, raster.level.ravel(), 1.0)
    assert found == pytest.approx(NOISE * math.sqrt(1.5), rel=0.15)  # some 560 misses
    assert second_misses(places, 3 + 0.1 * places[:, 0], 1.0) == pytest.approx(0.0, abs=1e-12)


def test_noise_that_the_cells_do_not_show_is_counted_as_shared() -> None:
    """Cells that agree to a few millimetres have no noise of 50 mm each: what is left of it they share."""
    known = raster_grounds(doubt_of(reading(noise=0.0)), np.array([0.0, 0]), np.array([19.0, 15]))
    assert known is not None
    own = known.cells.best.noise.max()
    assert math.sqrt(own) < 0.01
    assert known.shared.shift**2 + own == pytest.approx(SHIFT**2 + NOISE**2, rel=0.01)
    assert known.unseen == pytest.approx(NOISE, rel=0.02)


def test_grounds_of_a_spot_have_level_and_covariance_of_the_model() -> None:
    """What is drawn at points has the mean and the covariance that the closed form is worked out with."""
    known = raster_grounds(doubt_of(reading()), np.array([0.0, 0]), np.array([19.0, 15]))
    assert known is not None
    points = np.array([[8.0, 7.0], [8.4, 7.3], [11.0, 9.0], [0.0, 0.0]])
    ((mean, between),) = known.models(points)
    drawn = known.drawn_at(points, 6000, seed=2)
    assert drawn.mean(axis=0) == pytest.approx(mean, abs=5 * math.sqrt(between.max() / 6000))
    assert np.abs(np.cov(drawn.T) - between).max() < 5 * math.sqrt(2 / 6000) * between.max()


def test_truth_lies_within_its_bounds_when_a_spot_was_chosen_for_its_noise(search: SearchResult) -> None:
    """The level that noise shows is not dug: on the ground without it the spot costs what is to be expected.

    To add the noise to levels that were chosen with it, instead, would have doubled what the spot needs.
    """
    assert search.objective is not None
    found = weigh_luck(doubt_of(reading()), search.objective, search.objective.ground.outline(), search.best)
    assert found is not None
    truth = searched(reading(noise=0.0)).objective
    assert truth is not None
    at = found.drawn.spot.placement
    true = float(truth.values(np.array([[at.east, at.north, at.bearing]]))[0])
    assert found.drawn.low <= true <= found.drawn.high
    assert found.drawn.expected == pytest.approx(true, rel=0.5)
    assert found.pick.expected <= found.drawn.expected
    words = luck_sentences(found, GOALS["digging"], LengthUnit.METRE, search.best)
    assert "every ground that the raster allows" in words[0]
    assert not any("alike over several cells" in sentence for sentence in words)
    hidden = luck_sentences(replace(found, unseen=0.05), GOALS["digging"], LengthUnit.METRE, search.best)
    assert any("0.050 m of it" in sentence and "A few shots" in sentence for sentence in hidden)


def test_what_to_give_is_said_when_nothing_is_known_of_the_raster(search: SearchResult) -> None:
    """Without an accuracy there is no luck, and the notice names the keys; nothing is said unless it is asked for."""
    told, luck = with_luck(search, None, "expected")
    assert luck is None
    assert told.best == search.best
    assert any("[[readings]] an instrument" in words and "sd" in words for words in told.notices)
    assert with_luck(search, None, "drawn")[0].notices == search.notices


def test_land_too_large_for_the_pad_is_said_and_so_is_a_window_of_few_cells(search: SearchResult) -> None:
    """Where nothing can be drawn the notice says so; a window of nine cells gives no grounds."""
    assert raster_grounds(doubt_of(reading()), np.array([0.0, 0.0]), np.array([2.0, 2.0])) is None
    with mock.patch("spadework.plan_luck.weigh_luck", return_value=None):
        told, luck = with_luck(search, GroundStudy(doubt_of(reading())), "expected")
    assert luck is None
    assert any("smaller [boundary]" in words for words in told.notices)


def test_least_expected_spot_of_a_raster_is_taken_when_the_site_asks_for_it(tmp_path: Path) -> None:
    """At a place that is given the bearing of least expected cost is taken, by grounds that the raster allows."""
    for file in SAMPLE.iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    site = tmp_path / "site.toml"
    text = site.read_text(encoding="utf-8")
    text = text.replace('least = "digging"', 'least = "digging"\nrank = "expected"')
    text = text.replace('finish   = "free"', 'finish   = "free"\nposition = ["682624 m", "5318424 m"]')
    site.write_text(text, encoding="utf-8")
    done = run("place", tmp_path, "--json")
    assert done.status == 0, done.err
    luck, best = json.loads(done.out)["luck"], json.loads(done.out)["best"]
    assert luck["grounds"] == 200
    taken = luck["least_expected"]
    assert (taken["east"], taken["north"]) == pytest.approx((best["east"], best["north"]))
    assert taken["expected"] <= min(one["expected"] for one in (luck["drawn"], *luck["others"]))
    assert taken["low"] < taken["expected"] < taken["high"]
