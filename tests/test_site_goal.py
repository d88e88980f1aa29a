"""The goal of a site file: words, mixes and prices, and what their author is told when one is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from spadework.errors import InputError
from spadework.site import Site, load_site

SITE = """
[site]
units = "{units}"
[[readings]]
file = "shots.csv"
[pad]
size = ["3 m", "4 m"]
[goal]
{goal}
"""


def loaded(folder: Path, goal: str, units: str = "m") -> Site:
    """Return a site with this goal."""
    (folder / "shots.csv").write_text("name,east,north,level\n", encoding="utf-8")
    (folder / "site.toml").write_text(SITE.format(goal=goal, units=units), encoding="utf-8")
    return load_site(folder)


def test_mix_and_prices_are_read(tmp_path: Path) -> None:
    """A mix is a table of weights; a price is a number for the site's unit, or text with its own."""
    goal = loaded(
        tmp_path, 'least = { digging = 1, wall = 0.5 }\nprices = { dig = 30, cart-away = "7.65 per yd3" }'
    ).goal
    assert goal.least == {"digging": 1.0, "wall": 0.5}
    assert goal.prices == pytest.approx({"dig": 30.0, "cart-away": 7.65 / 0.9144**3})


def test_plain_prices_are_for_cubic_yards_and_feet_where_the_unit_is_feet(tmp_path: Path) -> None:
    """27 cubic feet to the yard; a wall's price is for a foot of height."""
    prices = loaded(tmp_path, "prices = { dig = 30, wall = 40 }", "ft").goal.prices
    assert prices == pytest.approx({"dig": 30 / 0.3048**3 / 27, "wall": 40 / 0.3048})


@pytest.mark.parametrize(
    ("goal", "words"),
    [
        ('least = "diging"', ["site.toml line 9", "diging", 'did you mean "digging"?']),
        ('least = "cut"', ["mix"]),
        ("least = 3", ["no goal"]),
        ("least = {}", ["empty mix"]),
        ("least = { diging = 1 }", ["diging", 'did you mean "digging"?']),
        ('least = { digging = "much" }', ["much", "plain number"]),
        ("least = { digging = 0 }", ["more than 0"]),
        ("prices = { digg = 3 }", ["digg", 'did you mean "dig"?']),
        ("prices = { dig = -3 }", ["-3", "no price"]),
        ('prices = { dig = "3 per m" }', ["3 per m", "30 per m3"]),
        ('prices = { wall = "3 per m3" }', ["100 per m"]),
        ("prices = 3", ["not a table"]),
    ],
)
def test_author_is_told_what_is_wrong_with_a_goal(tmp_path: Path, goal: str, words: list[str]) -> None:
    """The message shows the value, where it stands and what would be right."""
    with pytest.raises(InputError) as caught:
        loaded(tmp_path, goal)
    text = str(caught.value).lower()
    assert all(word.lower() in text for word in words), text
