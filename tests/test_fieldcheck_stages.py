"""Stages of the work by name, and how far a level may be off at each."""

from __future__ import annotations

import pytest

from spadework.errors import InputError
from spadework.factors import load_table
from spadework.fieldcheck import Stage, default_tolerance, stage_named, stage_names, tolerance_given
from spadework.pad import BuildUp, Layer
from spadework.units import LengthUnit

TWO = BuildUp((Layer("clean-stone-20", 0.1), Layer("sand", 0.05)))
# Typed from the table's own sources: common practice without one, and Ali 2011, page 233, "3.0 cm at any grid point".
TOLERANCES = {
    "strip": (20.0, 30.0, 50.0),
    "formation": (10.0, 20.0, 30.0),
    "layer": (10.0, 15.0, 25.0),
    "finish": (5.0, 10.0, 15.0),
    "land-levelling": (30.0, 30.0, 30.0),
}


def test_check_row_when_walked() -> None:
    """Every row has the low, value and high typed here, in millimetres."""
    assert {row.name: (row.low, row.value, row.high) for row in load_table("check")} == TOLERANCES
    assert {row.unit for row in load_table("check")} == {"mm"}


@pytest.mark.parametrize(
    ("text", "kind", "above"),
    [
        ("strip", "strip", 0.0),
        ("after strip", "strip", 0.0),
        ("Formation", "formation", 0.0),
        ("layer 1", "layer", 0.1),
        ("lift-2", "layer", 0.15),
        ("finish", "finish", 0.15),
        ("+50 mm", "height", 0.05),
        ("+0.12", "height", 0.12),
    ],
)
def test_stage_when_named(text: str, kind: str, above: float) -> None:
    """A stage is known by its name however it is spelt, and stands so far above the formation."""
    stage = stage_named(text, TWO)
    assert stage.kind == kind
    assert stage.above == pytest.approx(above, abs=1e-12)


def test_lift_when_in_feet_and_inches() -> None:
    """A lift is a height in the user's unit."""
    assert stage_named('+2"', TWO, LengthUnit.FOOT_INCH).above == pytest.approx(0.0508, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("finsh", "Did you mean 'finish'?"),
        ("layer 3", "strip, formation, layer 1, layer 2, finish"),
        ("layer 0", "there is no stage"),
        ("+200 mm", "above the build-up"),
        ("+0", "below the build-up"),
        ("+two", "not a unit of length"),
    ],
)
def test_stage_is_refused_when_there_is_none(text: str, said: str) -> None:
    """A stage that the pad does not have is refused with those it has."""
    with pytest.raises(InputError) as caught:
        stage_named(text, TWO)
    assert said in str(caught.value)


def test_names_when_pad_has_no_build_up() -> None:
    """Without a build-up, finish is formation."""
    assert stage_names(BuildUp()) == ("strip", "formation", "finish")
    assert stage_named("finish", BuildUp()).above == 0.0


def test_tolerance_when_nobody_says() -> None:
    """Each kind of stage has the tolerance of its row; a lift that of a layer. [m]"""
    kinds = {kind: default_tolerance(Stage(kind, kind)) for kind in ("strip", "formation", "layer", "height", "finish")}
    assert kinds == {"strip": 0.03, "formation": 0.02, "layer": 0.015, "height": 0.015, "finish": 0.01}


@pytest.mark.parametrize(
    ("kind", "feet", "inches"),
    [("strip", 0.10, 1.125), ("formation", 0.07, 0.75), ("layer", 0.05, 0.625), ("finish", 0.03, 0.375)],
)
def test_tolerance_is_round_in_feet(kind: str, feet: float, inches: float) -> None:
    """30, 20, 15 and 10 mm are 0.098, 0.066, 0.049 and 0.033 ft, and 1.18, 0.79, 0.59 and 0.39 in."""
    stage = Stage(kind, kind)
    assert default_tolerance(stage, LengthUnit.FOOT) == pytest.approx(feet * 0.3048, abs=1e-12)
    assert default_tolerance(stage, LengthUnit.FOOT_INCH) == pytest.approx(inches * 0.0254, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("12 mm", LengthUnit.METRE, 0.012),
        ("±0.05", LengthUnit.FOOT, 0.01524),
        ('1/2"', LengthUnit.FOOT_INCH, 0.0127),
        ("land-levelling", LengthUnit.METRE, 0.03),
    ],
)
def test_tolerance_when_given(text: str, unit: LengthUnit, expected: float) -> None:
    """A tolerance is a length, or a rule by its name."""
    assert tolerance_given(text, unit) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("text", ["0", "-5 mm", "tight", "5 furlongs"])
def test_tolerance_is_refused_when_it_is_none(text: str) -> None:
    """What is no length above zero and no rule is refused."""
    with pytest.raises(InputError):
        tolerance_given(text, LengthUnit.METRE)
