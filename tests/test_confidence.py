"""How sure a plan is: volumes against closed forms and against drawn grounds, nodes, bounds and next shots."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest
from scipy.integrate import quad

from spadework.confidence import Confidence, Figure, NextShot, StakeDoubt, assess, study_ground
from spadework.confidence.doubts import Written, doubtful_shots, likely_slip, standing_out
from spadework.confidence.next_shots import candidates, next_best_shots
from spadework.confidence.nodes import pad_nodes
from spadework.confidence.volumes import cut_fill_of, expected_cut_fill, levels_that_leave
from spadework.confidence.words import (
    doubtful_sentence,
    figure_words,
    next_shot_sentences,
    reason_words,
    surface_sentence,
)
from spadework.earthwork import earthwork
from spadework.ground import triangulate_shots
from spadework.ground.cross_validation import CrossValidation, compare_surfaces, triangles_left_out
from spadework.ground.process import fit_process
from spadework.ground.smooth import smooth_ground
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray
from spadework.shots import Shots
from spadework.stakeout import stake_out
from spadework.units import LengthUnit

ELL = np.array([[-2.0, -2], [-2, 2], [2, 2], [2, 0], [0, 0], [0, -2]])[::-1]


def table(places: FloatArray, level: FloatArray, sd: float = 0.003) -> Shots:
    """Shots of one instrument."""
    n = len(level)
    names = tuple(f"P{i}" for i in range(n))
    return Shots(
        names, places[:, 0], places[:, 1], level, ("",) * n, np.arange(n) + 2, ("yard.csv",) * n, np.full(n, sd)
    )


def wavy(count: int = 60, seed: int = 1, size: float = 20.0) -> Shots:
    """Shots of a wavy slope of 20 m by 20 m, each sure to 3 mm."""
    draw = np.random.default_rng(seed)
    places = draw.uniform(0, size, (count, 2))
    level = 100 + 0.03 * places[:, 0] + 0.1 * np.sin(places[:, 0] / 2) * np.cos(places[:, 1] / 3)
    return table(places, level + 0.003 * draw.standard_normal(count))


def confidence(shots: Shots, placement: Placement, pad: Pad | None = None) -> Confidence:
    """How sure a plan on these shots is."""
    pad = Pad.rectangle(5.0, 4.0, strip=0.05) if pad is None else pad
    ground = triangulate_shots(shots)
    drawn = earthwork(ground, pad, placement)
    stakes = stake_out(ground, pad, placement).stakes
    return assess(fit_process(shots), ground, pad, placement, drawn, stakes, keep=0.9)


HERE = Placement(10.0, 10.0, 30.0, 100.3)


@pytest.mark.parametrize("pad", [Pad.rectangle(5.0, 3.0), Pad(ELL)], ids=["rectangle", "ell"])
def test_nodes_sum_planes_without_error(pad: Pad) -> None:
    """Area and first moments of an outline come out exactly, as the integral of any plane does."""
    points, area = pad_nodes(pad, Placement(3.0, -2.0, 40.0, 0.0), count=50)
    assert area.sum() == pytest.approx(pad.area, rel=1e-12)
    assert (area > 0).all()
    more, fine = pad_nodes(pad, Placement(3.0, -2.0, 40.0, 0.0), count=5000)
    assert area @ points == pytest.approx(fine @ more, abs=1e-9)


def test_nodes_converge_at_second_order() -> None:
    """On a curved ground the error of the sum falls to a quarter when the triangles are half as large."""
    pad, at = Pad.rectangle(2.0, 2.0), Placement(0.0, 0.0, 0.0, 0.0)
    exact = 2 * 2 * (2 * 2**2 / 12)  # integral of e² + n² over a square of side 2: area (w² + l²) / 12
    errors = []
    for count in (2 * 6**2, 2 * 12**2, 2 * 24**2):
        points, area = pad_nodes(pad, at, count=count)
        errors.append(abs(area @ (points**2).sum(axis=1) - exact))
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=1e-6)
    assert errors[1] / errors[2] == pytest.approx(4.0, rel=1e-6)


@pytest.mark.parametrize("mean", [-0.2, 0.0, 0.05, 0.3])
def test_expected_cut_is_the_integral_of_the_normal_density(mean: float) -> None:
    """The closed form is the integral that defines it; cut less fill is the mean height."""
    found = expected_cut_fill(np.array([mean]), np.array([0.1]), np.array([2.0]), 0.0)
    density = NormalDist(mean, 0.1).pdf
    assert found.cut == pytest.approx(2.0 * quad(lambda z: z * density(z), 0, 2.0, epsabs=1e-12)[0], abs=1e-9)
    assert found.cut - found.fill == pytest.approx(2.0 * mean, abs=1e-12)
    assert found.above[0] == pytest.approx(1 - NormalDist(mean, 0.1).cdf(0.0), abs=1e-12)
    assert found.cut >= 2.0 * max(mean, 0.0)


def test_expected_cut_is_the_plain_one_when_nothing_is_in_doubt() -> None:
    """Without doubt the expected volumes are those of the surface."""
    mean = np.array([-0.1, 0.0, 0.2])
    found = expected_cut_fill(mean, np.zeros(3), np.array([1.0, 1.0, 2.0]), 0.0)
    assert (found.cut, found.fill) == pytest.approx((0.4, 0.1), abs=1e-15)


def test_level_that_leaves_soil_is_found_for_each_ground() -> None:
    """At the level found, what is kept of the cut less the fill is what was asked for."""
    draw = np.random.default_rng(3)
    levels, area = draw.normal(100.0, 0.2, (7, 30)), draw.uniform(0.1, 0.3, 30)
    for left in (-0.4, 0.0, 0.5):
        for ground, level in zip(levels, levels_that_leave(levels, area, 0.9, left), strict=True):
            cut, fill = cut_fill_of(ground[None], area, level)
            assert 0.9 * cut[0] - fill[0] == pytest.approx(left, abs=1e-9)


def test_expected_volumes_are_the_mean_of_drawn_grounds() -> None:
    """The closed form of the expected cut and fill agrees with the average over grounds drawn jointly."""
    shots = wavy(30)
    process, pad = fit_process(shots), Pad.rectangle(5.0, 4.0)
    points, area = pad_nodes(pad, HERE)
    expected = expected_cut_fill(*process.parts_mean_sd(points), area, 100.3, process.weight)
    cut, fill = cut_fill_of(process.samples(points, 4000, seed=5), area, 100.3)
    assert expected.cut == pytest.approx(cut.mean(), abs=4 * cut.std() / math.sqrt(4000))
    assert expected.fill == pytest.approx(fill.mean(), abs=4 * fill.std() / math.sqrt(4000))


def test_sd_of_a_wholly_cut_pad_is_that_of_the_weighted_sum() -> None:
    """A pad that lies in the ground everywhere has a volume linear in the levels: its variance is w'Σw."""
    shots = wavy(40)
    found = confidence(shots, replace(HERE, finish=98.0))
    process = fit_process(shots)
    points, area = pad_nodes(Pad.rectangle(5.0, 4.0), HERE)
    total = process.total(points, area)
    assert found.cut.sd == pytest.approx(math.sqrt(total.variance), rel=0.06)  # a thousand samples: 2.2 % each
    assert found.cut.measuring == pytest.approx(math.sqrt(total.measuring), rel=1e-9)
    assert found.cut.expected == pytest.approx(total.value - 20.0 * 98.05, abs=1e-6)
    assert found.fill.sd == 0.0


def test_doubt_comes_from_what_makes_most_of_it() -> None:
    """The two parts of the doubt add up, and the sentence names the larger one."""
    sparse = confidence(wavy(25), HERE)
    assert sparse.cut.limited_by == "spacing"
    assert sparse.cut.measuring**2 + sparse.cut.between**2 == pytest.approx(sparse.cut.sd**2)
    assert "not because of the instrument" in reason_words(sparse, LengthUnit.METRE)
    by_hand = replace(sparse, cut=Figure(1.8, 1.9, 0.2, 1.5, 2.3, 0.19), next_volume="cut")
    assert by_hand.cut.limited_by == "instrument"
    assert "which alone leaves ± 0.19 m³, not because" in reason_words(by_hand, LengthUnit.METRE)


def test_fixed_finish_has_no_doubt_of_its_own() -> None:
    """A level that the user fixed does not follow from the ground."""
    shots, pad = wavy(40), Pad.rectangle(5.0, 4.0, strip=0.05)
    ground = triangulate_shots(shots)
    drawn = earthwork(ground, pad, HERE)
    assert assess(fit_process(shots), ground, pad, HERE, drawn, free_level=False).finish is None


def test_stakes_have_the_doubt_of_the_ground_below_them() -> None:
    """A stake's depth is as sure as the ground there, and its mark also carries how far off it is drawn."""
    shots = wavy(40)
    found = confidence(shots, HERE)
    process = fit_process(shots)
    corners = HERE.corners(Pad.rectangle(5.0, 4.0))
    mean, sd = process.mean_sd(corners)
    assert [stake.name for stake in found.stakes] == ["A", "B", "C", "D"]
    assert [stake.sd for stake in found.stakes] == pytest.approx(sd)
    assert [stake.expected for stake in found.stakes] == pytest.approx(mean - 0.05 - 100.3)
    assert StakeDoubt("A", 0.10, 0.13, 0.04).give_or_take == pytest.approx(0.05)


def test_gain_of_the_next_shot_is_what_fitting_with_it_gives() -> None:
    """The promised standard deviation after a shot is that of a process that has the shot."""
    shots = wavy(30)
    process = fit_process(shots)
    best = replace(process, parts=(process.best,), weight=np.ones(1))
    pad = Pad.rectangle(5.0, 4.0)
    points, area = pad_nodes(pad, HERE)
    sd = math.sqrt(best.total(points, area).variance)
    places = candidates(triangulate_shots(shots), pad, HERE)
    found = next_best_shots(best, places, points, area, sd, 3, 0.0)
    model = best.best
    for count in (1, 2, 3):
        more = np.array([[shot.east, shot.north] for shot in found[:count]]) - process.origin
        better = replace(
            model,
            places=np.vstack([model.places, more]),
            level=np.concatenate([model.level, np.full(count, 100.0)]),
            noise=np.concatenate([model.noise, np.full(count, 0.003**2)]),
        )
        after = math.sqrt(better.total(points - process.origin, area).variance)
        assert found[count - 1].after == pytest.approx(after, rel=1e-3)
    assert found[0].before == pytest.approx(sd)
    assert found[1].before == found[0].after


def test_suggested_shots_beat_every_set_of_two_on_a_coarse_grid() -> None:
    """Among all pairs of places of a small set, none takes more off than the pair that is suggested."""
    shots = wavy(30)
    process = fit_process(shots)
    best = replace(process, parts=(process.best,), weight=np.ones(1))
    points, area = pad_nodes(Pad.rectangle(5.0, 4.0), HERE)
    places = HERE.to_site(np.array([[u, v] for u in (-2.0, -1.0, 0.0, 1.0, 2.0) for v in (-1.5, 0.0, 1.5)]))
    sd = math.sqrt(best.total(points, area).variance)
    found = next_best_shots(best, places, points, area, sd, 2, 0.0)
    local, nodes = places - process.origin, points - process.origin
    shared = process.best.between(local, nodes) @ area
    spread = process.best.between(local, local) + (0.003**2 + 0.001**2) * np.eye(len(places))
    gains = [
        shared[[i, j]] @ np.linalg.solve(spread[np.ix_([i, j], [i, j])], shared[[i, j]])
        for i in range(len(places))
        for j in range(i)
    ]
    assert sd**2 - found[1].after ** 2 == pytest.approx(max(gains), rel=1e-6)


def test_candidates_stay_on_measured_ground_at_round_distances() -> None:
    """A place for a shot has ground below it and can be taped."""
    ground = triangulate_shots(wavy(40))
    places = candidates(ground, Pad.rectangle(5.0, 4.0), Placement(3.0, 3.0, 0.0, 100.0))
    assert np.isfinite(ground.level_at(places)).all()
    assert places * 4 == pytest.approx(np.round(places * 4))


def test_more_shots_are_called_not_worth_it_when_they_take_little_off() -> None:
    """The list ends where the next shot takes less than a quarter of a load off, and says so."""
    figure = Figure(1.8, 1.9, 0.2, 1.5, 2.3, 0.01)
    shots = (NextShot(1.0, 2.0, 0.2, 0.1, True), NextShot(3.0, 4.0, 0.1, 0.09, False))
    process = fit_process(wavy(20))
    found = Confidence(figure, figure, None, (), 3.0, 0.003, "cut", shots, 0.02, process)
    assert found.useful_shots == shots[:1]
    first, last = next_shot_sentences(found, LengthUnit.METRE)
    assert first == "1. at east 1.000 m, north 2.000 m: the cut is then known to ± 0.10 m³ instead of ± 0.20 m³"
    assert "not worth it" in last
    assert "not worth it" in next_shot_sentences(replace(found, next_shots=shots[1:]), LengthUnit.METRE)[0]
    assert figure_words(figure, LengthUnit.METRE) == "1.90 ± 0.20 m³ (1.50 to 2.30 m³ in 95 cases of 100)"
    assert reason_words(found, LengthUnit.METRE) == (
        "because shots are 3.0 m apart, not because of the instrument, which alone would leave ± 0.01 m³"
    )


def test_blunder_is_found_and_explained_when_a_rod_was_misread_by_a_decimetre() -> None:
    """A shot a decimetre off is named first, with the level that was meant; its neighbours stay in good repute."""
    shots = wavy(80)
    wrong = shots.level.copy()
    inner = int(np.argmin(np.hypot(shots.east - 10, shots.north - 10)))
    wrong[inner] += 0.1
    spoiled = replace(shots, level=wrong)
    level = float(wrong[inner])
    listed = {("yard.csv", inner + 2, f"p{inner}"): Written("level", level, 0.001)}
    (found,) = doubtful_shots(fit_process(spoiled), spoiled, written=listed)
    assert found.name == f"P{inner}"
    assert found.error == pytest.approx(0.1, abs=0.03)
    assert found.suggestion == f"Did you mean level {level - 0.1:.3f} m for {level:.3f} m (one decimetre misread)?"
    (found,) = doubtful_shots(fit_process(spoiled), spoiled)
    assert found.suggestion == ""  # nobody wrote that level down, so no digit of it was misread
    assert f"yard.csv line {inner + 2}" in doubtful_sentence(found, LengthUnit.METRE)


def test_right_shots_are_not_doubted() -> None:
    """Shots of three millimetres with errors of three millimetres raise no doubt, in nineteen surveys of twenty."""
    called = sum(len(doubtful_shots(fit_process(shots), shots)) > 0 for shots in (wavy(60, seed) for seed in range(12)))
    assert called <= 2  # of 12, where one in twenty is expected: more has a chance of 2 %


def test_bound_of_doubt_is_bonferronis() -> None:
    """Among n right shots the chance that any is called doubtful is one in twenty at most."""
    for count in (10, 40, 200):
        chance = 2 * count * (1 - NormalDist().cdf(standing_out(count)))
        assert chance == pytest.approx(0.05, rel=1e-6)


@pytest.mark.parametrize(
    ("read", "wanted", "meant", "how"),
    [
        (1.347, 1.374, 1.374, "two digits exchanged"),
        (1.347, 2.349, 2.347, "one metre misread"),
        (1.347, 1.246, 1.247, "one decimetre misread"),
        (13.47, 1.345, 1.347, "the decimal point one place off"),
        (-1.347, 1.345, 1.347, "a minus that does not belong there"),
    ],
)
def test_slip_is_named_when_it_meets_what_is_wanted(read: float, wanted: float, meant: float, how: str) -> None:
    """Each common slip is found from the reading and what would agree with the others."""
    found = likely_slip(read, wanted, 0.005, 0.001)
    assert found is not None
    assert found[0] == pytest.approx(meant)
    assert found[1] == how


@pytest.mark.parametrize(
    ("read", "meant", "how"),
    [(24.625, 36.625, "one foot misread"), (24.625, 23.625, "one inch misread"), (-24.625, 24.625, "a minus")],
)
def test_slip_of_feet_and_inches_is_a_foot_an_inch_or_a_minus(read: float, meant: float, how: str) -> None:
    """2' 0 5/8" has no decimals that could be exchanged, and is no number of millimetres."""
    inch = 0.0254
    found = likely_slip(read * inch, meant * inch, 0.005, inch / 8)
    assert found is not None
    assert found[0] == pytest.approx(meant * inch)
    assert found[1].startswith(how)
    assert likely_slip(read * inch, (read + 3) * inch, 0.005, inch / 8) is None


def test_slip_is_not_invented_when_none_fits() -> None:
    """An error that no common slip makes gets no suggestion."""
    assert likely_slip(1.347, 1.380, 0.002, 0.001) is None


def test_triangles_left_out_are_those_of_a_new_triangulation() -> None:
    """The level that closes over a left-out shot is that of triangulating all the others anew."""
    shots = wavy(40)
    ground = triangulate_shots(shots)
    found = triangles_left_out(ground)
    for row in range(40):
        rest = [i for i in range(40) if i != row]
        at = triangulate_shots(shots.take(rest)).level_at(np.array([[shots.east[row], shots.north[row]]]))[0]
        if np.isfinite(found[row]):
            assert shots.level[row] - at == pytest.approx(found[row], abs=1e-9)
    assert np.isfinite(found).sum() > 20


def test_smooth_ground_is_preferred_on_waves_and_triangles_on_a_ridge() -> None:
    """Cross-validation takes the smooth ground where it is smooth, and stays with triangles where it is not better."""
    shots = wavy(120)
    ground = triangulate_shots(shots)
    study = study_ground(ground, shots)
    assert study is not None
    assert study.validation.prefers == "smooth"
    assert CrossValidation(0.0100, 0.0095, 50).prefers == "triangles"
    assert CrossValidation(0.0100, 0.0050, 7).prefers == "triangles"
    assert study_ground(triangulate_shots(shots.take(range(7))), shots.take(range(7))) is None


def test_surface_sentence_says_what_is_drawn_and_how_to_change_it() -> None:
    """The sentence holds both errors, what is drawn, and the key that draws the other."""
    found = surface_sentence(CrossValidation(0.0169, 0.0054, 58), "triangles", LengthUnit.METRE)
    assert "58 shots are met by triangles to 16.9 mm and by the smooth ground to 5.4 mm" in found
    assert '[ground] surface = "smooth"' in found
    assert surface_sentence(CrossValidation(0.0169, 0.0054, 58), "smooth", LengthUnit.METRE).endswith(
        "Drawn: the smooth ground of the covariance."
    )
    assert "nothing could be compared" in surface_sentence(
        CrossValidation(math.nan, math.nan, 0), "smooth", LengthUnit.METRE
    )


def test_smooth_ground_reaches_as_far_as_the_triangles_and_is_nearer_the_truth() -> None:
    """It covers the same area, reproduces planes, and on waves it errs less than the triangles."""
    shots = wavy(120)
    ground, process = triangulate_shots(shots), fit_process(shots)
    smooth = smooth_ground(ground, process)
    assert smooth.area == pytest.approx(ground.area, rel=1e-9)
    points = np.random.default_rng(6).uniform(3, 17, (400, 2))
    true = 100 + 0.03 * points[:, 0] + 0.1 * np.sin(points[:, 0] / 2) * np.cos(points[:, 1] / 3)
    rough = np.sqrt(np.mean((ground.level_at(points) - true) ** 2))
    assert np.sqrt(np.mean((smooth.level_at(points) - true) ** 2)) < 0.6 * rough
    plane = table(np.column_stack([shots.east, shots.north]), 100 + 0.05 * shots.east - 0.02 * shots.north)
    flat = smooth_ground(triangulate_shots(plane), fit_process(plane))
    assert flat.level == pytest.approx(100 + 0.05 * (flat.east + flat.origin[0]) - 0.02 * (flat.north + flat.origin[1]))
    assert compare_surfaces(triangulate_shots(plane), fit_process(plane)).smooth < 1e-9
