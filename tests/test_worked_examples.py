"""The worked examples of the docs: each line's arithmetic against its result, and its result against the engine."""

from __future__ import annotations

import ast
import math
import operator
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from spadework.build import BuildOptions, BuildPlan
from spadework.build.edge_soil import frame_soil
from spadework.earthwork import Earthwork, EdgeSoil, earthwork, edge_profile, soil_account
from spadework.factors import soil_factors
from spadework.placement import GOALS, BearingLimit, Limits, PositionLimit
from spadework.plan import PlanInputs, find_spot
from spadework.units import LengthUnit
from timber_yard import planned

PAGE = Path(__file__).parents[1] / "docs" / "worked-examples.md"
# Level at A, fall per metre from A to B and from A to D, finish level: as the page states them in words.
GROUNDS = {
    "Flat ground": (10.0, 0.0, 0.0, 10.04),
    "Slope along the short side": (10.2, 0.0, 0.1, 10.08),
    "Slope along the long side": (10.25, 0.1, 0.0, 10.09),
    "Slope across a corner": (10.2, 0.05, 0.05, 10.11),
}
OPERATIONS: dict[type[ast.AST], Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
}
Row = tuple[str, str, str]


def rows(section: str) -> list[Row]:
    """Lines of the table of one example: line, arithmetic, result."""
    text = PAGE.read_text(encoding="utf-8").split(f"\n## {section}\n")[1].split("\n## ")[0]
    found = [
        tuple(cell.strip() for cell in line.strip("|").split("|")) for line in text.splitlines() if line[:1] == "|"
    ]
    return [row for row in found[2:] if len(row) == 3]


def worked(text: str) -> float:
    """Value of a line of arithmetic: sums, products, brackets, and ``up`` for the next whole number."""

    def value(node: ast.AST) -> float:
        if isinstance(node, ast.Expression):
            return value(node.body)
        if isinstance(node, ast.Constant) and isinstance(node.value, int | float):
            return float(node.value)
        if isinstance(node, ast.BinOp):
            return OPERATIONS[type(node.op)](value(node.left), value(node.right))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "up":
            return float(math.ceil(value(node.args[0]) - 1e-9))
        raise ValueError(f"not arithmetic: {ast.dump(node)}")

    return value(ast.parse(text, mode="eval"))


def step(text: str) -> float:
    """Half a unit in the last decimal that a result is printed to."""
    return 0.5 * 10.0 ** -len(text.partition(".")[2])


def found(line: str, built: BuildPlan, work: Earthwork, soil: EdgeSoil) -> float | None:
    """What the engine says for a line of the page."""
    edge, cutting, layer = built.edge, built.cutting, built.layers[0]
    assert edge is not None
    assert cutting is not None
    if match := re.fullmatch(r"(\w\w), course (\d) (starts|ends) at.*", line):
        side = next(one for one in edge.sides if one.name == match[1])
        run = next(run for run in side.runs if run.course == int(match[2]))
        return run.start if match[3] == "starts" else run.end
    if match := re.match(r"timber, course (\d)", line):
        return math.fsum(piece.length for piece in edge.pieces if piece.course == int(match[1]))
    if match := re.fullmatch(r"trench, (\w\w)", line):
        return next(trench.volume for trench in edge.trenches if trench.side == match[1])
    counts = edge.bar_counts
    return {
        "cut": work.cut,
        "fill": work.fill,
        "frame shows": edge.exposed,
        "frame stands in the ground": min(side.least_embedment() for side in edge.sides),
        "timber: AB, BC, CD, DA": edge.timber_length,
        "timbers of 4.8 to buy": float(len(cutting.timbers)),
        "short bars": float(counts.get(0.6, 0)),
        "long bars": float(counts.get(1.2, 0)),
        "screws between courses": float(len(edge.screws)),
        "lag screws": float(len(edge.lags)),
        "trench depth": edge.trenches[0].deepest,
        "trench volume": edge.trench_volume,
        "timber in the trench": soil.trench - soil.packed.sum(),
        "rammed back beside the timber": soil.packed.sum(),
        "timber in the place of fill": soil.spared.sum(),
        "left for the fill": soil.reserve(0.9),
        "stone in place": layer.compacted,
        "stone to order": layer.loose.likely,
        "stone as sold, in steps of 0.1": layer.order,
        "mass of the stone ordered, t": layer.mass,
    }[line]


@pytest.mark.parametrize("section", GROUNDS)
def test_page_when_its_arithmetic_is_worked(section: str) -> None:
    """Every line of the page gives its own result, to the decimals that it is printed with."""
    lines = rows(section)
    assert len(lines) > 12
    for line, arithmetic, result in lines:
        assert worked(arithmetic) == pytest.approx(float(result), abs=step(result) + 1e-9), line


@pytest.mark.parametrize("section", GROUNDS)
def test_engine_when_compared_with_the_page(section: str) -> None:
    """Every result of the page is what the engine works out, to the decimals that it is printed with."""
    built, pad, ground, placement = planned(*GROUNDS[section])
    work = earthwork(ground, pad, placement)
    soil = frame_soil(
        pad,
        placement.finish,
        edge_profile(ground, pad, placement),
        BuildOptions.usual(LengthUnit.METRE).edge,
        LengthUnit.METRE,
    )
    assert soil is not None
    assert soil.trench == pytest.approx(built.edge.trench_volume if built.edge else 0.0, rel=1e-12)
    for line, arithmetic, result in rows(section):
        assert found(line, built, work, soil) == pytest.approx(worked(arithmetic), abs=step(result) + 1e-9), line


@pytest.mark.parametrize("section", GROUNDS)
def test_page_when_it_states_its_ground(section: str) -> None:
    """The level at A and the finish level that the test uses stand in the words of the page."""
    at_a, _, _, finish = GROUNDS[section]
    text = " ".join(PAGE.read_text(encoding="utf-8").split(f"\n## {section}\n")[1].split("|")[0].split())
    assert f"{at_a:.3f}" in text
    assert f"Finish `T` = {finish:.3f}" in text


@pytest.mark.parametrize("section", GROUNDS)
def test_cutting_list_when_worked_by_hand(section: str) -> None:
    """The number of timbers that the page argues for is proved to be the least."""
    built, _, _, _ = planned(*GROUNDS[section])
    assert built.cutting is not None
    assert built.cutting.proved


def test_finish_when_it_is_left_free() -> None:
    """On flat ground the engine finds the finish and the volumes that the page derives, and the soil comes out even."""
    lines = {line: (arithmetic, float(result)) for line, arithmetic, result in rows("The finish that uses the soil up")}
    assert len(lines) == 8
    for line, (arithmetic, result) in lines.items():
        assert worked(arithmetic) == pytest.approx(result, abs=5e-5 + 1e-9), line
    _, pad, ground, _ = planned(*GROUNDS["Flat ground"])
    limits = Limits(position=PositionLimit(0.0, 0.0), bearing=BearingLimit(90.0))
    loam = soil_factors("loam")
    inputs = PlanInputs("bench", "2026-05-02", LengthUnit.METRE, ground, pad, limits, GOALS["digging"], loam)
    spot = find_spot(inputs)
    assert spot.best.placement.finish == pytest.approx(lines["finish"][1], abs=1e-4)
    edge = BuildOptions.usual(LengthUnit.METRE).edge
    profiles = edge_profile(ground, pad, spot.best.placement)
    soil = frame_soil(pad, spot.best.placement.finish, profiles, edge, LengthUnit.METRE)
    assert soil is not None
    assert spot.reserve == pytest.approx(soil.reserve(0.9), abs=1e-9)
    # The page carries four decimals of the level through.
    for line, value in (
        ("trench volume", soil.trench),
        ("rammed back beside the timber", soil.packed.sum()),
        ("timber in the place of fill", soil.spared.sum()),
        ("fill", spot.best.fill),
        ("left for the fill", spot.reserve),
    ):
        assert value == pytest.approx(lines[line][1], abs=7e-4), line
    account = soil_account(earthwork(ground, pad, spot.best.placement), loam, soil)
    assert account.over_bank.likely == pytest.approx(0.0, abs=1e-9)
    assert account.short_compacted.likely == pytest.approx(0.0, abs=1e-9)
