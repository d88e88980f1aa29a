"""How the formation level is chosen."""

import math

import pytest

from spadework.earthwork import LevelRule


@pytest.mark.parametrize(
    ("numbers", "message"),
    [
        ({"kind": "lowest"}, "kind 'lowest'"),
        ({"keep": 0.0}, "keep 0.0"),
        ({"keep": math.nan}, "keep nan"),
        ({"bought": -1.0}, r"bought -1\.0"),
        ({"cut_weight": 0.0, "fill_weight": 0.0}, "weights"),
        ({"cut_weight": -1.0}, "weights"),
        ({"kind": "fixed"}, "needs finish"),
        ({"exposed_edge": math.nan}, "limit is not a number"),
    ],
)
def test_a_rule_that_makes_no_sense_is_refused(numbers: dict[str, object], message: str) -> None:
    """The value is shown."""
    with pytest.raises(ValueError, match=message):
        LevelRule(**numbers)  # type: ignore[arg-type]


def test_every_fault_of_a_rule_is_named_at_once() -> None:
    """Three wrong numbers, one message."""
    with pytest.raises(ValueError, match=r"keep.*bought.*needs finish"):
        LevelRule("fixed", keep=-1, bought=-2)
