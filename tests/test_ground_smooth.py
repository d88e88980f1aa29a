"""A smooth ground as triangles: its rim, its breaklines, and what these say of the ground beside the shots."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from grounds import shots_of
from spadework.confidence import study_ground
from spadework.confidence.words import surface_sentence
from spadework.ground import Breakline, Ground, triangulate_shots
from spadework.ground.cross_validation import CrossValidation
from spadework.ground.line_shots import along_sides, line_shots
from spadework.ground.process import fit_process, ground_shots
from spadework.ground.rim import within_reach
from spadework.ground.smooth import smooth_ground
from spadework.readings import FloatArray
from spadework.shots import Shots
from spadework.units import LengthUnit


def ridge(east: FloatArray) -> FloatArray:
    """Level of two planes that meet along east 10 m: 1 in 10 up to it and down again. [m]"""
    return 100.0 + 0.1 * (10.0 - np.abs(east - 10.0))


def beside() -> Shots:
    """Shots on both planes, none nearer than 1.5 m to the ridge."""
    draw = np.random.default_rng(3)
    east = np.concatenate([draw.uniform(0, 8.5, 20), draw.uniform(11.5, 20, 20)])
    north = draw.uniform(0, 12, 40)
    corners_east, corners_north = np.array([0, 20, 20, 0.0]), np.array([0, 0, 12, 12.0])
    east, north = np.concatenate([corners_east, east]), np.concatenate([corners_north, north])
    return shots_of(east, north, ridge(east), level_sd=0.003)


def crest() -> Breakline:
    """The ridge from one end to the other, with levels of its own."""
    return Breakline("crest", np.array([10.0, 10.0]), np.array([0.5, 11.5]), np.array([101.0, 101.0]))


def drawn(breaklines: tuple[Breakline, ...]) -> tuple[Ground, Ground]:
    """The triangles and the smooth ground of the shots beside a ridge."""
    shots = beside()
    ground = triangulate_shots(shots, breaklines=breaklines)
    study = study_ground(ground, shots)
    assert study is not None
    return ground, smooth_ground(ground, study.process)


ALONG = np.column_stack([np.full(40, 10.0), np.linspace(0.6, 11.4, 40)])


def test_smooth_ground_keeps_a_breakline_at_its_level() -> None:
    """On the crest it is the crest's level to the last digit; without the line it is rounded off by centimetres."""
    _, smooth = drawn((crest(),))
    assert smooth.level_at(ALONG) == pytest.approx(np.full(40, 101.0), abs=1e-9)
    _, without = drawn(())
    assert (without.level_at(ALONG) < 100.98).all()


def test_smooth_ground_has_sides_along_the_breakline() -> None:
    """The sides kept run from one end of the line to the other, and each is a side of a triangle."""
    _, smooth = drawn((crest(),))
    places = np.column_stack([smooth.east, smooth.north]) + smooth.origin
    run = np.hypot(*(places[smooth.kept[:, 0]] - places[smooth.kept[:, 1]]).T)
    assert run.sum() == pytest.approx(11.0)
    sides = {tuple(sorted(pair)) for t in smooth.triangles.tolist() for pair in zip(t, t[1:] + t[:1], strict=True)}
    assert {tuple(sorted(pair)) for pair in smooth.kept.tolist()} <= sides


def test_levels_of_a_breakline_are_observations() -> None:
    """The process knows the crest: it is expected at its level, surely, where the shots alone say less, unsurely."""
    shots = beside()
    ground = triangulate_shots(shots, breaklines=(crest(),))
    study = study_ground(ground, shots)
    assert study is not None
    mean, sd = study.process.mean_sd(ALONG)
    before, doubt = fit_process(shots).mean_sd(ALONG)
    assert np.abs(mean - 101.0).max() < 0.2 * np.abs(before - 101.0).max()
    assert (sd < 0.5 * doubt).all()
    assert study.process.shot_count == len(shots)
    assert len(study.process) > len(shots)


def test_shots_are_left_out_against_shots_alone() -> None:
    """What a line through shots says comes from the shots: it must not speak for them when they are left out."""
    shots = beside()
    ground = triangulate_shots(shots, breaklines=[("S1", "S2")])
    study = study_ground(ground, shots)
    assert study is not None
    standing = ground_shots(ground, shots)
    assert study.process.leave_one_out().error == pytest.approx(fit_process(standing).leave_one_out().error)


def test_line_says_its_levels_as_often_as_shots_stand() -> None:
    """Both ends with levels of their own, and places between them on the straight line, as sure as the shots."""
    shots = beside()
    ground = triangulate_shots(shots, breaklines=(crest(),))
    found = line_shots(ground, ground_shots(ground, shots))
    assert found is not None
    assert found.level == pytest.approx(101.0)
    assert found.east == pytest.approx(10.0)
    assert found.level_sd == pytest.approx(0.003)
    apart = np.diff(np.sort(found.north))
    assert apart.max() <= 0.5 * np.sqrt(20 * 12 / len(ground.level)) + 1e-9
    assert line_shots(triangulate_shots(shots), shots) is None


def test_sides_are_parted_evenly() -> None:
    """By hand: 5 m in steps of 2 m are three pieces, 2 m are one, 4.1 m are three."""
    side, share = along_sides(np.array([5.0, 2.0, 4.1]), 2.0)
    assert side.tolist() == [0, 0, 2, 2]
    assert share == pytest.approx([1 / 3, 2 / 3, 1 / 3, 2 / 3])


def test_rim_of_the_smooth_ground_is_that_of_the_shots() -> None:
    """Also where the ground is no hull: an L, its notch left out."""
    east, north = (values.ravel() for values in np.meshgrid(np.arange(0, 21, 2.0), np.arange(0, 21, 2.0)))
    there = (east <= 10) | (north <= 10)
    shots = shots_of(east[there], north[there], 0.01 * east[there])
    ground = within_reach(triangulate_shots(shots), 1.35)
    smooth = smooth_ground(ground, fit_process(ground_shots(ground, shots)))
    assert smooth.area == pytest.approx(300)
    assert shapely.Polygon(smooth.outline()[0]).equals_exact(shapely.Polygon(ground.outline()[0]), 1e-6) or (
        shapely.Polygon(smooth.outline()[0]).symmetric_difference(shapely.Polygon(ground.outline()[0])).area < 1e-9
    )


def test_sentence_says_that_breaklines_are_the_reason() -> None:
    """Where the shots would choose the smooth ground and lines run through it, triangles are drawn, and it says why."""
    compared = CrossValidation(0.02, 0.01, 30)
    said = surface_sentence(compared, "triangles", LengthUnit.METRE, bent=True)
    assert "because breaklines run through the ground" in said
    assert "keeps the breaklines at their levels" in surface_sentence(compared, "smooth", LengthUnit.METRE, bent=True)
    asked = surface_sentence(compared, "triangles", LengthUnit.METRE, insisted=True, bent=True)
    assert "as the site file asks" in asked
