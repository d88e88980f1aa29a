"""Soil in the bank, in the barrow and rammed in place."""

import dataclasses

import pytest

from grounds import rough, scattered
from spadework.earthwork import Earthwork, Range, earthwork, soil_account
from spadework.factors import SoilFactors, soil_factors
from spadework.pad import Pad, Placement

LOAM = SoilFactors("test loam", 0.25, 0.20, 0.40, 0.10, 0.05, 0.15, "numbers of this test")


def work(cut: float, fill: float) -> Earthwork:
    """An earthwork with these volumes."""
    some = earthwork(scattered(40, rough()), Pad.rectangle(3, 3, strip=0.1), Placement(15, 20, 0, 52))
    return dataclasses.replace(some, cut=cut, fill=fill)


def test_soil_over_by_hand() -> None:
    """Cut 10, fill 4.5 at 10 % shrink: 5 in the bank make the fill, 5 are over, 6.25 in the barrow."""
    account = soil_account(work(10.0, 4.5), LOAM)
    assert account.cut_loose.likely == pytest.approx(12.5)
    assert account.from_cut_compacted.likely == pytest.approx(9.0)
    assert account.over_bank.likely == pytest.approx(5.0)
    assert account.over_loose.likely == pytest.approx(6.25)
    assert account.short_compacted == account.short_loose == Range(0.0, 0.0, 0.0)
    assert account.strip == Range(*[pytest.approx(0.9)] * 3)


def test_soil_short_by_hand() -> None:
    """Cut 2, fill 5.4 at 10 % shrink: 1.8 is made, 3.6 compacted are short, 4 in the bank, 5 in the barrow."""
    account = soil_account(work(2.0, 5.4), LOAM)
    assert account.short_compacted.likely == pytest.approx(3.6)
    assert account.short_loose.likely == pytest.approx(5.0)
    assert account.over_bank == Range(0.0, 0.0, 0.0)


def test_ranges_are_those_of_the_factors_at_their_ends() -> None:
    """Each volume's lowest and highest by the swell and shrink that make it so, worked out by hand."""
    account = soil_account(work(10.0, 4.5), LOAM)
    assert (account.cut_loose.low, account.cut_loose.high) == pytest.approx((12.0, 14.0))
    assert (account.from_cut_compacted.low, account.from_cut_compacted.high) == pytest.approx((8.5, 9.5))
    assert account.over_bank.low == pytest.approx(10 - 4.5 / 0.85)
    assert account.over_bank.high == pytest.approx(10 - 4.5 / 0.95)
    assert account.over_loose.low == pytest.approx((10 - 4.5 / 0.85) * 1.2)
    assert account.over_loose.high == pytest.approx((10 - 4.5 / 0.95) * 1.4)


def test_a_balance_that_hangs_on_the_factors_may_be_over_or_short() -> None:
    """Cut 10, fill 9: even at 10 % shrink, over at 5 %, short at 15 %."""
    account = soil_account(work(10.0, 9.0), LOAM)
    assert account.over_bank.likely == pytest.approx(0.0, abs=1e-12)
    assert account.over_bank.high == pytest.approx(10 - 9 / 0.95)
    assert account.short_compacted.likely == pytest.approx(0.0, abs=1e-12)
    assert account.short_compacted.high == pytest.approx(9 - 8.5)


def test_rock_takes_more_room_in_place() -> None:
    """A shrink below zero makes more fill than what was dug."""
    account = soil_account(work(10.0, 4.0), soil_factors("rock"))
    assert account.from_cut_compacted.likely > 10.0
