"""Hours, money, the shopping list and the order of work."""

import math
from dataclasses import replace

import pytest

from spadework.build.hours import Quantities, hours_for, task_for
from spadework.build.lumber import StockLength
from spadework.build.options import BuildOptions, Crew, Machine
from spadework.factors import factor_row
from spadework.units import LengthUnit
from timber_yard import planned

QUANTITIES = Quantities(
    stakes=8,
    strip=1.0,
    cut=5.17,
    trench=3.0,
    dug_loose=8.5,
    fill=2.5,
    course_length=20.0,
    cuts=10,
    fabric=30.0,
    stone=2.0,
    stone_loose=4.25,
    soil="loam",
)


def test_hours_when_a_norm_day_is_worked() -> None:
    """A norm sheet's day of work takes one worker eight hours: 5.17 m³ of loam dug, 8.5 m³ barrowed to 20 m."""
    tasks = {task.name: task for task in hours_for(QUANTITIES, Crew()).tasks}
    assert tasks["Dig"].hours.likely == pytest.approx(8.0, abs=0.01)
    assert tasks["Dig"].hours.low == pytest.approx(5.17 / 0.76)
    assert tasks["Dig"].hours.high == pytest.approx(5.17 / 0.375)
    assert tasks["Dig the trench for the edge"].hours.likely == pytest.approx(8.0)
    assert tasks["Barrow what is dug"].hours.likely == pytest.approx(8.0)
    assert tasks["Load the stone"].hours.likely == pytest.approx(4.0)
    assert tasks["Lay and pin the frame"].hours.likely == pytest.approx(10.0)


@pytest.mark.parametrize(
    ("soil", "row"), [("loam", "dig-loam"), ("sand", "dig-loam"), ("clay", "dig-clay"), ("hard-rock", "dig-rock")]
)
def test_hours_when_soils_differ(soil: str, row: str) -> None:
    """Each kind of soil is dug at its own row; the flagged row for common earth never is."""
    tasks = hours_for(replace(QUANTITIES, soil=soil), Crew()).tasks
    assert next(task.row for task in tasks if task.name == "Dig") == row
    assert all(task.row != "dig-common-earth" for task in tasks)


@pytest.mark.parametrize(
    ("metres", "row"), [(0, "barrow-20"), (20, "barrow-20"), (41, "barrow-60"), (400, "barrow-150")]
)
def test_hours_when_hauls_differ(metres: float, row: str) -> None:
    """A haul takes the norm of the shortest band that reaches as far, the last one for what is further."""
    tasks = hours_for(QUANTITIES, Crew(haul_distance=metres)).tasks
    assert next(task.row for task in tasks if task.name == "Barrow what is dug") == row


def test_hours_when_the_plan_knows_the_way() -> None:
    """The plan's own mean way sets the norm for soil; stone keeps the usual 20 m; a way of one's own beats both."""
    known = replace(QUANTITIES, haul=33.0)
    rows = {task.name: task.row for task in hours_for(known, Crew()).tasks}
    assert (rows["Barrow what is dug"], rows["Barrow the stone"]) == ("barrow-40", "barrow-20")
    rows = {task.name: task.row for task in hours_for(known, Crew(haul_distance=70.0)).tasks}
    assert (rows["Barrow what is dug"], rows["Barrow the stone"]) == ("barrow-80", "barrow-80")


def test_hours_when_shares_are_added() -> None:
    """The shares of the tasks make one, the total is their sum, and a crew of two takes half the days."""
    one, two = hours_for(QUANTITIES, Crew()), hours_for(QUANTITIES, Crew(people=2))
    assert math.fsum(one.share(task) for task in one.tasks) == pytest.approx(1.0)
    assert one.total.likely == pytest.approx(math.fsum(task.hours.likely for task in one.tasks))
    assert one.total.low < one.total.likely < one.total.high
    assert two.days.likely == pytest.approx(one.days.likely / 2)


def test_task_when_a_rate_is_given() -> None:
    """A rate of one's own beats the table's, has no range and says whose it is."""
    task = task_for("Dig", 6.0, "dig-loam", Crew(rates={"dig-loam": 1.5}))
    assert (task.hours.low, task.hours.likely, task.hours.high) == (4.0, 4.0, 4.0)
    assert task.source == "your own rate"
    assert "Philippines" in task_for("Dig", 6.0, "dig-loam", Crew()).source


def test_hours_when_a_machine_is_named() -> None:
    """9.17 m³ at 2 m³/h is 4.6 h, one day of hire; by hand the digging is set against it at the wage given."""
    crew = Crew(wage=20.0, machine=Machine("mini digger", 2.0, 150.0))
    machine = hours_for(QUANTITIES, crew).machine
    assert machine is not None
    assert machine.hours == pytest.approx((1.0 + 5.17 + 3.0) / 2)
    assert (machine.days, machine.hire) == (1, 150.0)
    by_hand = 1.0 / 0.6463 + 5.17 / 0.6463 + 3.0 / 0.375
    assert machine.hand.likely == pytest.approx(by_hand)
    assert machine.wages == pytest.approx(20.0 * by_hand)


def test_money_when_no_price_is_given() -> None:
    """Without prices there is no money anywhere: none is made up."""
    built, _, _, _ = planned(10.2, 0.0, 0.1, 10.08)
    assert built.money is None
    assert all(line.price is None and line.cost is None for line in built.materials)


def test_money_when_prices_are_given() -> None:
    """Five timbers at 30, 17 bars at 2, 1 at 4 and 1.3 m³ at 40: 150 + 34 + 4 + 52; what has no price is named."""
    built, _, _, _ = planned(
        10.2,
        0.0,
        0.1,
        10.08,
        stock=(StockLength(4.8, 30.0),),
        prices={"bar-600": 2.0, "bar-1200": 4.0, "clean-stone-20": 40.0},
        currency="EUR",
        crew=Crew(wage=10.0),
    )
    assert built.money is not None
    assert built.money.materials == pytest.approx(150 + 34 + 4 + 52)
    assert set(built.money.unpriced) == {"screw", "lag", "fabric", "staple"}
    assert built.money.currency == "EUR"
    assert built.money.labour is not None
    assert built.money.labour[1] == pytest.approx(10 * built.hours.total.likely)


def test_materials_when_steel_is_weighed() -> None:
    """17 bars of 12 mm, 0.6 m long, weigh 17 x 0.6 x 0.888 = 9.1 kg."""
    built, _, _, _ = planned(10.2, 0.0, 0.1, 10.08)
    line = next(line for line in built.materials if line.key == "bar-600")
    assert (line.quantity, line.what) == (17, "reinforcing bar 12 mm, 600 mm")
    assert "9.1 kg" in line.detail


def test_steps_when_there_is_everything_to_do() -> None:
    """The steps come in the order of the work, each with its check, with this plan's own numbers.

    The soil is dug once the frame stands that it is rammed against, and carried straight there.
    """
    built, _, _, _ = planned(10.2, 0.0, 0.1, 10.08)
    titles = [step.title for step in built.steps]
    assert titles == [
        "Find what is buried, then set out",
        "Strip",
        "Dig along the sides",
        "Dig the trench for the frame",
        "Lay the frame",
        "Square it and pin it",
        "Dig the rest",
        "Make up",
        "Tamp the formation",
        "Lay the fabric",
        "Lay clean-stone-20",
        "Check the whole",
    ]
    assert all(step.check.endswith(".") for step in built.steps)
    text = " ".join(f"{step.text} {step.check}" for step in built.steps)
    # √(4.2² + 3.0²) = 5.161; cut 0.61; fill 0.35; trench 0.20; 17 bars of 600 mm and one of 1.2 m
    for number in ("5.161 m", "0.61 m³", "0.35 m³", "0.20 m³", "17 of 600 mm, 1 of 1.200 m", "1.29 m³ loose"):
        assert number in text, number


def test_steps_when_there_is_nothing_to_dig() -> None:
    """A step for which there is nothing to do is left out."""
    built, _, _, _ = planned(10.0, 0.0, 0.0, 10.1, strip=0.0)
    assert not {"Strip", "Dig", "Make up"} & {step.title for step in built.steps}


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_plan_when_units_differ(unit: LengthUnit) -> None:
    """Everything is worked out in each unit, with its own usual stock and its own words."""
    built, _, _, _ = planned(
        10.2, 0.05, 0.05, 10.11, unit=unit, beam="4x6", stock=BuildOptions.usual(unit).stock, size=(3.0, 2.4)
    )
    assert built.edge is not None
    assert built.edge.section.height == pytest.approx(5.5 * 0.0254)
    assert all(side.least_embedment() >= 0.0999 for side in built.edge.sides)
    assert built.cutting is not None
    assert built.cutting.proved
    words = " ".join(step.text for step in built.steps)
    assert (" m³" in words) == (unit is LengthUnit.METRE)


def test_rates_when_used() -> None:
    """Every row that a task may take is in the table."""
    for task in hours_for(QUANTITIES, Crew()).tasks:
        assert factor_row("rates", task.row).name == task.row
