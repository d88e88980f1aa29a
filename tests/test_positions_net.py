"""A net of places: closed forms, a second implementation, and the slips of the pen that are found in it."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence

import numpy as np
import pytest
from scipy.optimize import least_squares

from spadework.errors import InputError
from spadework.positions.net import adjust_place_net
from spadework.positions.net_fit import angle_words, fit_places, place_sentence, place_slip_sentences
from spadework.positions.observations import PlaceObservations, Sight
from spadework.positions.places import name_key
from spadework.units import LengthUnit
from studies.place_mistakes import KINDS, STYLES, accused, place_of, random_case, search, shares

Spot = tuple[float, float]
Row = tuple[Sight, str, str, float, float]
HOUSE: dict[str, Spot] = {"h1": (0.0, 0.0), "h2": (18.0, 0.0), "h3": (9.0, 14.0)}
YARD: dict[str, Spot] = {"Q1": (2.0, 3.0), "Q2": (9.0, 2.5), "Q3": (15.5, 4.0), "Q4": (3.5, 9.0), "Q5": (10.0, 10.5)}


def observed(rows: Sequence[Row], *, step: float = 0.01, angle_step: float = 1 / 60) -> PlaceObservations:
    """Observations by kind, start, end, value and standard deviation; directions belong to their start."""
    kind, start, end, value, sd = zip(*rows, strict=True)
    count = len(rows)
    return PlaceObservations(
        kind=kind,
        start=start,
        end=end,
        value=np.array(value, dtype=np.float64),
        sd=np.array(sd, dtype=np.float64),
        step=np.where([each == "distance" for each in kind], step, angle_step),
        set_up=tuple(name if each == "direction" else "" for name, each in zip(start, kind, strict=True)),
        line=np.arange(2, count + 2),
        file=("t.csv",) * count,
    )


def near_yard() -> dict[str, Spot]:
    """The yard, some decimetres off."""
    return {name_key(name): (east + 0.3, north - 0.2) for name, (east, north) in YARD.items()}


def ties(*, noise: int | None = None) -> list[Row]:
    """Every point of the yard from the three corners of the house, and between neighbours; to the centimetre."""
    rng = np.random.default_rng(noise)
    rows: list[Row] = []
    names = list(YARD)
    for number, name in enumerate(names):
        others = {**HOUSE, **({names[number - 1]: YARD[names[number - 1]]} if number else {})}
        for other, spot in others.items():
            off = 0.0 if noise is None else float(rng.normal(0, 0.006))
            rows.append(("distance", other, name, round(math.dist(spot, YARD[name]) + off, 2), 0.01))
    return rows


@pytest.mark.parametrize("count", [3, 4, 6, 9])
def test_errors_are_those_of_the_closed_form_when_known_points_stand_in_a_ring(count: int) -> None:
    """From n points all round, each coordinate is sure to sd sqrt(2 / n), and each distance is checked by 1 - 2 / n.

    The normal matrix is the sum of u u' over unit vectors that share out the circle: n / 2 times the unit matrix.
    """
    turn = 2 * np.pi * np.arange(count) / count + 0.3
    known = {f"k{i}": (10 * math.cos(t), 10 * math.sin(t)) for i, t in enumerate(turn)}
    rows: list[Row] = [("distance", name, "P", 10.0, 0.02) for name in known]
    net = adjust_place_net(observed(rows), known, {"p": (0.4, -0.3)})
    assert net.at("P") == pytest.approx((0.0, 0.0), abs=1e-9)
    assert net.covariance[0] == pytest.approx(np.eye(2) * 0.02**2 * 2 / count, abs=1e-12)
    assert net.solution.redundancy == pytest.approx(1 - 2 / count)
    assert net.ellipse(0)[:2] == pytest.approx((0.02 * math.sqrt(2 / count),) * 2)


def test_braced_square_when_all_its_sides_are_taped() -> None:
    """Known A and B, unknown C and D of a square, sides BC, AD, CD and both diagonals, all of one sd.

    By the mirror image of the square the normal equations fall apart into two of 2 x 2: var east = 12/7, var north =
    6/7 of one distance; the sides are checked by 1/7 each and the diagonals by 2/7, one observation over in all.
    """
    known: dict[str, Spot] = {"a": (0.0, 0.0), "b": (10.0, 0.0)}
    diagonal = 10 * math.sqrt(2)
    rows: list[Row] = [
        ("distance", "B", "C", 10.0, 0.01),
        ("distance", "A", "D", 10.0, 0.01),
        ("distance", "C", "D", 10.0, 0.01),
        ("distance", "A", "C", diagonal, 0.01),
        ("distance", "B", "D", diagonal, 0.01),
    ]
    net = adjust_place_net(observed(rows), known, {"c": (10.2, 9.9), "d": (0.1, 10.3)})
    assert net.point == ("C", "D")
    for row in (0, 1):
        assert np.diag(net.covariance[row]) == pytest.approx(1e-4 * np.array([12 / 7, 6 / 7]))
    assert net.solution.redundancy == pytest.approx(np.array([1, 1, 1, 2, 2]) / 7)
    assert net.solution.degrees_of_freedom == 1


def test_ellipse_lies_across_the_line_when_a_point_is_far_from_a_short_base() -> None:
    """Two distances alike along a line at 30 degrees: sure along it, unsure across, so the long axis lies across."""
    turn = math.radians(30)
    spot = (50 * math.sin(turn), 50 * math.cos(turn))
    base: dict[str, Spot] = {
        "a": (2 * math.cos(turn), -2 * math.sin(turn)),
        "b": (-2 * math.cos(turn), 2 * math.sin(turn)),
    }
    rows: list[Row] = [("distance", name, "P", math.dist(place, spot), 0.01) for name, place in base.items()]
    net = adjust_place_net(observed(rows), base, {"p": spot})
    major, minor, bearing = net.ellipse(0)
    half = math.atan2(2, 50)
    assert bearing == pytest.approx(120.0)
    assert (major, minor) == pytest.approx((0.01 / math.sqrt(2) / math.sin(half), 0.01 / math.sqrt(2) / math.cos(half)))


@pytest.mark.parametrize("seed", range(6))
def test_net_is_that_of_a_general_solver_when_sights_are_mixed(seed: int) -> None:
    """Distances, directions of two circles and bearings with noise: places and covariance of an iterative solver."""
    rng = np.random.default_rng(seed)
    names = list(YARD)
    spots = {**HOUSE, **{name_key(name): spot for name, spot in YARD.items()}}
    rows: list[Row] = []
    for start in ("h1", "q3"):
        for end in (*HOUSE, *names):
            if name_key(end) == start:
                continue
            away = np.subtract(spots[name_key(end)], spots[start])
            turn = math.degrees(math.atan2(*away)) + 40.0 * len(start) + float(rng.normal(0, 0.01))
            rows.append(("direction", start, end, turn % 360.0, 0.01))
            rows.append(("distance", start, end, float(np.hypot(*away) + rng.normal(0, 0.01)), 0.01))
    away = np.subtract(YARD["Q5"], HOUSE["h2"])
    rows.append(("bearing", "h2", "Q5", math.degrees(math.atan2(*away)) + 0.02, 0.02))
    observations = observed(rows)
    net = adjust_place_net(observations, HOUSE, near_yard())

    def misfit(unknown: np.ndarray) -> np.ndarray:
        place = {**HOUSE, **{name_key(name): tuple(unknown[2 * k : 2 * k + 2]) for k, name in enumerate(net.point)}}
        zero = dict(zip(net.zero, unknown[2 * len(net.point) :], strict=True))
        found = []
        for kind, start, end, value, sd in rows:
            de, dn = np.subtract(place[name_key(end)], place[name_key(start)])
            if kind == "distance":
                found.append((math.hypot(de, dn) - value) / sd)
            else:
                turned = math.degrees(math.atan2(de, dn)) - (zero[start] if kind == "direction" else 0.0)
                found.append(((turned - value + 180.0) % 360.0 - 180.0) / sd)
        return np.array(found)

    start = [*(value for name in net.point for value in near_yard()[name_key(name)]), *net.zero.values()]
    other = least_squares(misfit, start, xtol=1e-15, ftol=1e-15, gtol=1e-15)
    assert np.column_stack([net.east, net.north]).ravel() == pytest.approx(other.x[: 2 * len(net.point)], abs=1e-6)
    assert net.solution.chi_square == pytest.approx(2 * other.cost, rel=1e-6)
    covariance = np.linalg.inv(other.jac.T @ other.jac)
    for k in range(len(net.point)):
        block = covariance[2 * k : 2 * k + 2, 2 * k : 2 * k + 2]
        np.testing.assert_allclose(net.covariance[k], block, rtol=1e-4, atol=1e-12)
    assert float(net.solution.redundancy.sum()) == pytest.approx(net.solution.degrees_of_freedom)


def test_a_large_net_is_that_of_a_small_one_when_its_equations_are_sparse() -> None:
    """160 points, each from three of ten known ones: together, by sparse equations, as each of them alone."""
    rng = np.random.default_rng(5)
    known = {f"k{i}": (float(e), float(n)) for i, (e, n) in enumerate(rng.uniform(0, 60, (10, 2)))}
    spots = rng.uniform(5, 55, (160, 2))
    rows: list[Row] = []
    near = {}
    for number, spot in enumerate(spots):
        for name in rng.choice(list(known), 3, replace=False).tolist():
            rows.append(
                ("distance", name, f"P{number}", math.dist(known[name], spot) + float(rng.normal(0, 0.01)), 0.01)
            )
        near[f"p{number}"] = (float(spot[0]), float(spot[1]))
    whole = adjust_place_net(observed(rows), known, near)
    for number in (0, 77, 159):
        alone = adjust_place_net(observed([row for row in rows if row[2] == f"P{number}"]), known, near)
        row = whole.point.index(f"P{number}")
        assert whole.at(f"P{number}") == pytest.approx(alone.at(f"P{number}"), abs=1e-7)
        np.testing.assert_allclose(whole.covariance[row], alone.covariance[0], rtol=1e-6)


def test_nothing_is_accused_when_a_net_is_honest() -> None:
    """Twenty-five nets with the noise of their tape: none is called wrong."""
    for seed in range(25):
        fit = fit_places(observed(ties(noise=seed)), HOUSE, near_yard())
        assert fit.slips == ()


SLIPS = [
    ("h1", "Q5", 14.50, 41.50, "exchanged", "two digits exchanged"),
    ("h2", "Q1", 16.28, 15.28, "whole", "a whole metre out"),
    ("h3", "Q3", 11.93, 1.93, "ten", "ten metres out"),
    ("h1", "Q2", 9.34, 9.44, "tenth", "a decimetre out"),
    ("h2", "Q4", 17.07, 7.07, "ten", "ten metres out"),
    ("h1", "Q3", 16.01, 161.01, "doubled", "a digit too many"),
]


@pytest.mark.parametrize(
    ("start", "end", "true", "written", "kind", "words"), SLIPS, ids=[row[4] + row[1] for row in SLIPS]
)
def test_slip_is_named_first_when_one_is_planted(
    start: str, end: str, true: float, written: float, kind: str, words: str
) -> None:
    """One distance of an honest net written wrongly: the first question is about it, with what was meant."""
    rows = ties(noise=3)
    at = next(row for row, each in enumerate(rows) if each[1:3] == (start, end))
    assert rows[at][3] == pytest.approx(true, abs=0.02)
    off = rows[at][3] - true
    rows[at] = (*rows[at][:3], written + (off if kind != "exchanged" else 0.0), rows[at][4])
    fit = fit_places(observed(rows), HOUSE, near_yard())
    assert len(fit.slips) == 1
    first = fit.slips[0][0]
    assert (first.row, first.kind) == (at, kind)
    assert first.meant == pytest.approx(true + (off if kind != "exchanged" else 0.0), abs=0.02)
    sentence = next(place_slip_sentences(fit, LengthUnit.METRE))
    assert sentence.startswith(f"t.csv line {at + 2}: the distance from {start} to {end} is written ")
    assert f"({words})?" in sentence
    assert "WORSE" in place_sentence(fit)


def test_slip_is_found_when_its_known_point_is_named_nowhere_else() -> None:
    """A fourth corner of the house ties one point only, a whole metre too long: leaving it out loses that corner."""
    known = {**HOUSE, "h4": (2.0, 12.0)}
    rows: list[Row] = [
        *ties(noise=3),
        ("distance", "h4", "Q5", round(math.dist((2.0, 12.0), YARD["Q5"]) + 1.0, 2), 0.01),
    ]
    fit = fit_places(observed(rows), known, near_yard())
    assert (fit.slips[0][0].row, fit.slips[0][0].kind) == (len(rows) - 1, "whole")


def test_slip_is_found_when_the_net_is_large() -> None:
    """60 points from four known ones each: the search looks around the one that is out, and nowhere else."""
    rng = np.random.default_rng(11)
    known = {f"k{i}": (float(e), float(n)) for i, (e, n) in enumerate(rng.uniform(0, 60, (8, 2)))}
    spots = rng.uniform(5, 55, (60, 2))
    rows: list[Row] = []
    for number, spot in enumerate(spots):
        for name in list(known)[number % 4 : number % 4 + 4]:
            away = round(math.dist(known[name], spot) + float(rng.normal(0, 0.006)), 2)
            rows.append(("distance", name, f"P{number}", away, 0.01))
    true = rows[101][3]
    rows[101] = (*rows[101][:3], true + 1.0, 0.01)
    near = {f"p{number}": (float(e), float(n)) for number, (e, n) in enumerate(spots)}
    fit = fit_places(observed(rows), known, near)
    assert [(slips[0].row, slips[0].kind, slips[0].meant) for slips in fit.slips] == [
        (101, "whole", pytest.approx(true))
    ]


def test_distances_are_to_be_measured_again_when_no_slip_explains_them() -> None:
    """A third of a metre too long: every tie of the point is named with what the others say, and nothing is offered."""
    rows = ties(noise=3)
    at = next(row for row, each in enumerate(rows) if each[1:3] == ("h2", "Q1"))
    rows[at] = (*rows[at][:3], rows[at][3] + 0.37, 0.01)
    fit = fit_places(observed(rows), HOUSE, near_yard())
    sentence = next(place_slip_sentences(fit, LengthUnit.METRE))
    assert (
        f"t.csv line {at + 2}: the distance from h2 to Q1 is written {rows[at][3]:.2f} m, and the others say"
        in sentence
    )
    assert "No slip of the pen that we know explains it" in sentence
    assert "did you mean" not in sentence


def test_distances_are_asked_about_when_they_changed_places() -> None:
    """Two distances of one point in each other's cell."""
    rows = ties(noise=2)
    one, two = (next(k for k, row in enumerate(rows) if row[1:3] == (name, "Q4")) for name in ("h1", "h3"))
    values = rows[one][3], rows[two][3]
    rows[one], rows[two] = (*rows[one][:3], values[1], 0.01), (*rows[two][:3], values[0], 0.01)
    fit = fit_places(observed(rows), HOUSE, near_yard())
    assert fit.slips[0][0].kind == "columns"
    assert "from h1 and h3 to Q4 change places?" in next(place_slip_sentences(fit, LengthUnit.METRE))


def test_side_is_asked_about_when_a_point_was_put_on_the_wrong_one() -> None:
    """Q4 has two distances and the wrong side; two points tied from it bring it over, and that is said."""
    rows = [row for row in ties(noise=1) if row[2] != "Q4" and "Q4" not in row[1]]
    rows += [("distance", name, "Q4", round(math.dist(HOUSE[name], YARD["Q4"]), 2), 0.01) for name in ("h1", "h2")]
    rows += [("distance", "Q4", name, round(math.dist(YARD["Q4"], YARD[name]), 2), 0.01) for name in ("Q1", "Q5")]
    fit = fit_places(observed(rows), HOUSE, {**near_yard(), "q4": (3.5, -9.0)})
    assert fit.net.at("Q4") == pytest.approx(YARD["Q4"], abs=0.02)
    assert fit.moved == {"Q4": pytest.approx(18.0, abs=0.02)}
    sentence = next(place_slip_sentences(fit, LengthUnit.METRE))
    assert sentence.startswith("Q4 comes to lie 18.0")
    assert sentence.endswith("was the side of their line written rightly?")


@pytest.mark.parametrize(
    ("change", "kind"),
    [(180.0, "turned"), (1.0, "whole"), (-10.0, "ten"), (1 / 6, "tenth")],
    ids=str,
)
def test_angle_is_asked_about_when_it_is_written_wrongly(change: float, kind: str) -> None:
    """Directions of three set-ups over known points, to the minute; one is out by a usual amount."""
    rng = np.random.default_rng(8)
    rows: list[Row] = []
    for start, spot in HOUSE.items():
        for end, place in {**HOUSE, **YARD}.items():
            if end == start:
                continue
            de, dn = np.subtract(place, spot)
            angle = (math.degrees(math.atan2(de, dn)) - 12.0 + float(rng.normal(0, 0.01))) % 360.0
            rows.append(("direction", start, end, round(angle * 60) / 60, 0.02))
            if end not in HOUSE:
                rows.append(("distance", start, end, round(float(np.hypot(de, dn) + rng.normal(0, 0.006)), 2), 0.01))
    at = next(row for row, each in enumerate(rows) if each[:3] == ("direction", "h2", "Q5"))
    true = rows[at][3]
    rows[at] = (*rows[at][:3], (true + change) % 360.0, 0.02)
    fit = fit_places(observed(rows), HOUSE, near_yard())
    first = fit.slips[0][0]
    assert (first.row, first.kind, first.meant % 360.0) == (at, kind, pytest.approx(true % 360.0))
    assert f"did you mean {angle_words(true, 1 / 60)}" in next(place_slip_sentences(fit, LengthUnit.METRE))


def test_net_is_refused_when_a_point_may_move() -> None:
    """A point from one known point only is named, with its line."""
    rows: list[Row] = [*ties(), ("distance", "h1", "X", 5.0, 0.01)]
    with pytest.raises(InputError, match="leaves X free to move") as raised:
        adjust_place_net(observed(rows), HOUSE, {**near_yard(), "x": (3.0, 4.0)})
    assert raised.value.faults[0].source.line == len(rows) + 1


@pytest.mark.parametrize(
    ("degrees", "step", "words"),
    [
        (34.258333, 1 / 3600, "34-15-30"),
        (34.25, 1 / 60, "34-15"),
        (34.2583, 1e-4, "34.2583°"),
        (1.0, 1 / 36000, "1-00-00.0"),
    ],
)
def test_angle_is_printed_as_it_was_written(degrees: float, step: float, words: str) -> None:
    """Seconds, minutes, decimals of a degree, tenths of a second."""
    assert angle_words(degrees, step) == words


@pytest.mark.parametrize("kind", KINDS)
def test_share_when_slips_are_planted(kind: str) -> None:
    """A short run of the study: in 9 of 10 nets with ties to neighbours the true distance comes first.

    The floor lies three standard deviations under the shares of the long run that the documentation prints.
    """
    cases = [random_case(random.Random(f"{kind} {number}"), "neighbours", kind) for number in range(5)]  # noqa: S311
    assert sum(place_of(case, search(case.net)) == 1 for case in cases) >= 4


def test_study_of_slips_prints_a_line_for_every_kind_and_style() -> None:
    """The committed study runs, and accuses no clean net of the first six."""
    assert [(kind, style) for kind, style, *_ in shares(1)] == [(kind, style) for kind in KINDS for style in STYLES]
    assert accused(6) == 0.0
