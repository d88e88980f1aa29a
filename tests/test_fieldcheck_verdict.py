"""A check in words: one sentence of verdict, and what was built, in the user's unit."""

from __future__ import annotations

import numpy as np
import pytest

from field_checks import check_of, grid_on, wanted_pad
from spadework.fieldcheck import doubts, findings, to_do, verdict
from spadework.units import LengthUnit


def test_verdict_when_in_tolerance() -> None:
    """Says how many points, within what, of which level, and how they lie on the mean."""
    wanted = wanted_pad()
    assert verdict(check_of(wanted, grid_on(wanted, 2, 2), [100.01, 100.0, 99.998, 100.004])) == (
        "In tolerance: all 4 points lie within 0.020 m of formation level 100.000 m; on the mean they are 0.003 m high."
    )


def test_verdict_when_not_in_tolerance() -> None:
    """Names the worst high and the worst low point, and what is still to dig and to bring."""
    wanted = wanted_pad()
    said = verdict(check_of(wanted, grid_on(wanted, 2, 2), [100.03, 100.05, 99.96, 100.0], names=("A", "B", "D", "C")))
    # With the corners joined across B and D: 1/2 of 12 m² under (30, 50, -40 mm) and under (50, -40, 0 mm).
    assert said.startswith(
        "Not in tolerance: 3 of 4 points lie more than 0.020 m off formation level 100.000 m, B 0.050 m high and "
        "D 0.040 m low; still to dig "
    )
    assert said.endswith(" m³.")
    assert said.count(". ") == 0


def test_verdict_names_only_what_is_wrong() -> None:
    """Where all points are low, none is called high."""
    wanted = wanted_pad()
    said = verdict(check_of(wanted, grid_on(wanted, 2, 2), [99.9] * 4, names=("A", "B", "D", "C")))
    assert "high" not in said
    assert "to dig 0.00 m³, to bring 1.20 m³" in said


@pytest.mark.parametrize(
    ("unit", "said"),
    [
        (LengthUnit.FOOT, "within 0.07 ft of formation level 328.08 ft"),
        (LengthUnit.FOOT_INCH, 'within 3/4" of formation level 328\' 1"'),
    ],
)
def test_verdict_when_in_feet(unit: LengthUnit, said: str) -> None:
    """Small lengths are in hundredths of a foot, or in inches: 20 mm = 0.0656 ft = 0.787 in; 100 m = 328.084 ft."""
    wanted = wanted_pad(units=unit)
    assert said in verdict(check_of(wanted, grid_on(wanted), np.full(20, 100.0)))


def test_verdict_when_one_point() -> None:
    """One point alone is judged as one, and proves nothing of the three other corners."""
    wanted = wanted_pad()
    assert verdict(check_of(wanted, grid_on(wanted)[:1], [100.0])) == (
        "In tolerance where measured: the one point lies within 0.020 m of formation level 100.000 m; it is right; "
        "nothing was read near corners B, C, D."
    )


def test_verdict_does_not_speak_for_a_corner_that_was_not_read() -> None:
    """Three corners that are right do not make a level pad."""
    wanted = wanted_pad()
    said = verdict(check_of(wanted, grid_on(wanted, 2, 2)[:3], [100.0] * 3, names=("A", "B", "D")))
    assert said.startswith("In tolerance where measured: all 3 points lie within 0.020 m")
    assert said.endswith("; nothing was read near corner C.")


def test_what_to_do_at_a_point() -> None:
    """High is dug, low is brought, and in tolerance is left."""
    wanted = wanted_pad()
    made = check_of(wanted, grid_on(wanted, 2, 2), [100.03, 99.96, 100.0, 100.02])
    assert [to_do(made, point) for point in made.points] == ["dig 0.030 m", "bring 0.040 m", "ok", "ok"]


def test_findings_when_water_stands() -> None:
    """A hollow is named with its depth; the tilt with its direction and its two corners."""
    wanted = wanted_pad(bearing=0.0)  # A is south-west, B north-west, C north-east, D south-east
    points = grid_on(wanted, 5, 5)
    levels = 100.0 - 0.02 * (points[:, 1] - 30.0)
    levels[12] -= 0.03
    said = " ".join(findings(check_of(wanted, points, levels)))
    assert "towards 0° from site north" in said or "towards 360° from site north" in said
    assert "from corner A to corner B" in said or "from corner D to corner C" in said
    assert "Water can stand 0.010 m deep at S13" in said  # the lowest way out is 20 mm down the slope, 1 m to the north


def test_findings_when_level() -> None:
    """A level surface says so, and that water has to soak away."""
    wanted = wanted_pad()
    said = findings(check_of(wanted, grid_on(wanted), np.full(20, 100.0)))
    assert said[0] == "The plane built is level; the points lie within 0.000 m of it."
    assert "soak away" in said[1]


def test_findings_when_it_falls() -> None:
    """A fall of 1 in 50 lets water run off."""
    wanted = wanted_pad()
    points = grid_on(wanted)
    said = findings(check_of(wanted, points, 100.0 + 0.02 * (points[:, 0] - 20.0)))
    assert "falls 1 in 50 (2.0 %) towards 270°" in said[0]
    assert said[1] == "No hollow among the points: water runs off if the edges let it out."


def test_other_stage_is_asked_about_when_all_points_fit_it() -> None:
    """Points that all lie a build-up above the stage that was said raise the question of the right one."""
    wanted = wanted_pad()
    made = check_of(wanted, grid_on(wanted), np.full(20, 100.151))
    assert "which is finish: was --stage finish meant?" in " ".join(doubts(made))
    made = check_of(wanted, grid_on(wanted), np.full(20, 100.099), "finish")
    assert 'was --stage "layer 1" meant?' in " ".join(doubts(made))


def test_instrument_is_asked_about_when_all_points_are_off_by_one_amount() -> None:
    """Points that agree among themselves and fit no stage point to the bench mark."""
    wanted = wanted_pad()
    made = check_of(wanted, grid_on(wanted), np.full(20, 99.7))
    assert "was the bench mark read wrongly, or the instrument moved?" in " ".join(doubts(made))


def test_nothing_is_asked_when_points_scatter() -> None:
    """Points off by different amounts are bad work, not a wrong stage."""
    wanted = wanted_pad()
    levels = 100.0 + np.linspace(-0.1, 0.16, 20)
    assert doubts(check_of(wanted, grid_on(wanted), levels)) == ()


def test_doubts_when_part_was_measured() -> None:
    """The share that was measured, the corners that were not, and points off the pad are named."""
    wanted = wanted_pad()
    points = np.array([[18.5, 28.0], [21.5, 28.0], [21.5, 29.5], [18.5, 29.5], [30.0, 30.0]])
    said = " ".join(doubts(check_of(wanted, points, np.full(5, 100.0), names=("A", "D", "P", "Q", "tree"))))
    assert "The points reach 38% of the pad" in said  # 1.5 of 4 m
    assert "near corners B, C" in said
    assert "Off the pad, and not compared: tree." in said


@pytest.mark.parametrize(
    ("low", "said"),
    [(99.985, "The lowest layer takes "), (99.94, "Below the formation ")],
)
def test_what_is_missing_below_the_formation(low: float, said: str) -> None:
    """Low within the tolerance is left to the stone, lower is to be made up first; a high point changes neither."""
    wanted = wanted_pad()
    made = findings(check_of(wanted, grid_on(wanted, 2, 2), [100.05, low, low, 100.0]))
    assert len([sentence for sentence in made if sentence.startswith(said)]) == 1
