"""What the command prints of what is built."""

from __future__ import annotations

from dataclasses import replace

import pytest

from spadework.build.lumber import StockLength
from spadework.build.options import Crew, Machine
from spadework.cli.built import print_build
from spadework.units import LengthUnit
from timber_yard import planned


def printed(capsys: pytest.CaptureFixture[str], **options: object) -> str:
    """What is printed of the frame on a slope along the short side, worked by hand in docs/worked-examples.md."""
    built, _, _, _ = planned(10.2, 0.0, 0.1, 10.08, **options)  # type: ignore[arg-type]
    print_build(built, LengthUnit.METRE)
    return capsys.readouterr().out


def test_print_build_when_nothing_is_priced(capsys: pytest.CaptureFixture[str]) -> None:
    """The frame, the proof, each thing to buy and the hours are printed, and no sum."""
    text = printed(capsys)
    assert "7 pieces of 100 x 150 in 2 courses, top level at 10.080 m; shows 180 mm at most, on side CD" in text
    assert "trench 0.20 m³" in text
    assert "no list of these pieces is better" in text
    assert "    5 x    timber 100 x 150, 4.800 m" in text
    assert "  1.3 m³   clean-stone-20" in text
    assert "Work: about" in text
    assert "Materials" not in text
    assert "Wages" not in text


def test_print_build_when_priced(capsys: pytest.CaptureFixture[str]) -> None:
    """Sums are printed with their currency, with what they leave out, and a machine beside hand tools."""
    text = printed(
        capsys,
        stock=(StockLength(4.8, 30.0),),
        prices={"clean-stone-20": 40.0},
        currency="EUR",
        crew=Crew(wage=10.0, machine=Machine("a digger", 3.0, 160.0)),
    )
    assert "Materials: 202.00 EUR; without bar-600, bar-1200, screw, lag, fabric, staple" in text
    assert "Wages: " in text
    assert "Digging with a digger: 0.5 hours, 1 day, hire 160.00; by hand" in text


def test_print_build_when_there_is_no_frame(capsys: pytest.CaptureFixture[str]) -> None:
    """Another edge prints what is bought and the hours, and nothing of timber."""
    built, _, _, _ = planned(10.2, 0.0, 0.1, 10.08)
    print_build(replace(built, edge=None, cutting=None), LengthUnit.METRE)
    assert "Timber edge" not in capsys.readouterr().out
