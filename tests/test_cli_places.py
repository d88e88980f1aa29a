"""``spadework level`` on ties, sights and walks: places adjusted from the points that are given."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from command_line import run, says_no_traceback

HOUSE = ("--place", "H1=0,0", "--place", "H2=18,0", "--place", "H3=9,14")
YARD = {"Q1": (2.0, 3.0), "Q2": (9.0, 2.5), "Q3": (15.5, 4.0), "Q4": (3.5, 9.0), "Q5": (10.0, 10.5)}


def ties(folder: Path, *, wrong: str = "") -> Path:
    """Every point of the yard from three corners of the house, to the centimetre; one of them written as ``wrong``."""
    rows = ["point,from H1 (m),from H2 (m),from H3 (m)"]
    for name, (east, north) in YARD.items():
        cells = [f"{math.dist((east, north), spot):.2f}" for spot in ((0, 0), (18, 0), (9, 14))]
        if name == "Q5" and wrong:
            cells[0] = wrong
        rows.append(",".join((name, *cells)))
    path = folder / "ties.csv"
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


def test_ties_are_adjusted_when_three_points_are_given(tmp_path: Path) -> None:
    """Places to the rounding of the tape, errors of a centimetre or less, and each measurement with its share."""
    done = run("level", ties(tmp_path), *HOUSE, "--json")
    content = json.loads(done.out)
    assert done.status == 0
    for point in content["points"]:
        assert (point["east"], point["north"]) == pytest.approx(YARD[point["point"]], abs=0.01)
    net = content["net"]
    assert net["degrees_of_freedom"] == 5
    assert sum(row["redundancy"] for row in net["measurements"]) == pytest.approx(5.0)
    assert net["chi_square"] == pytest.approx(sum((row["residual"] / row["sd"]) ** 2 for row in net["measurements"]))
    assert all(0.005 < point["ellipse"]["minor"] <= point["ellipse"]["major"] < 0.02 for point in net["points"])
    assert content["looks_wrong"] == []


def test_question_is_asked_when_digits_changed_places(tmp_path: Path) -> None:
    """14.50 written as 41.50 is asked about, on the screen and for programs, and exit is 0: it is a question."""
    path = ties(tmp_path, wrong="41.50")
    done = run("level", path, *HOUSE)
    assert done.status == 0
    assert (
        "line 6: the distance from H1 to Q5 is written 41.50 m: did you mean 14.50 m (two digits exchanged)?"
        in done.out
    )
    slips = json.loads(run("level", path, *HOUSE, "--json").out)["net"]["did_you_mean"]
    assert [(slip[0]["kind"], slip[0]["line"], slip[0]["meant"]) for slip in slips] == [
        ("exchanged", 6, pytest.approx(14.5))
    ]


def test_points_stay_where_they_were_put_when_nothing_is_adjusted(tmp_path: Path) -> None:
    """Without the adjustment there is a plain list."""
    done = run("level", ties(tmp_path), *HOUSE, "--adjust", "none")
    assert done.status == 0
    assert "w  checked" not in done.out
    assert "Q1" in done.out


def test_walk_is_closed_by_the_compass_rule_when_asked(tmp_path: Path) -> None:
    """Ten metres walked as 9.9 between two known points: the middle moves by half of what is missing."""
    path = tmp_path / "walk.csv"
    path.write_text("from,to,distance (m),slope (%),bearing\nA,P,4.95,0 %,90\nP,B,4.95,0 %,90\n", encoding="utf-8")
    known = ("--place", "A=0,0", "--place", "B=10,0", "--known", "A=100", "--known", "B=100.2")
    for way, words in (("distance", "compass rule"), ("least-squares", "adjusted by least squares")):
        done = run("level", path, *known, "--adjust", way, "--json")
        content = json.loads(done.out)
        middle = next(point for point in content["points"] if point["point"] == "P")
        assert (middle["east"], middle["north"], middle["level"]) == pytest.approx((5.0, 0.0, 100.1), abs=1e-6)
        assert any(words in notice for notice in content["notices"])


def test_sights_are_adjusted_when_two_set_ups_see_the_same_points(tmp_path: Path) -> None:
    """A transit over H1 and H2 turned by sights on each other: every point of the yard seen from both."""
    rows = ["station,point,angle (dms),distance (m)"]
    spots = {"H1": (0.0, 0.0), "H2": (18.0, 0.0)}
    for station, spot in spots.items():
        for name, place in {**spots, **YARD}.items():
            if name != station:
                de, dn = place[0] - spot[0], place[1] - spot[1]
                seconds = round((math.degrees(math.atan2(de, dn)) % 360.0) * 3600)
                angle = f"{seconds // 3600}-{seconds // 60 % 60:02d}-{seconds % 60:02d}"
                rows.append(f"{station},{name},{angle},{math.hypot(de, dn):.3f}")
    path = tmp_path / "sights.csv"
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    done = run("level", path, "--place", "H1=0,0", "--place", "H2=18,0", "--instrument", "transit", "--json")
    net = json.loads(done.out)["net"]
    # 12 directions and 12 distances; 5 places and 2 circles are unknown.
    assert net["degrees_of_freedom"] == 24 - 12
    for point in net["points"]:
        assert (point["east"], point["north"]) == pytest.approx(YARD[point["point"]], abs=0.002)


@pytest.mark.parametrize(
    ("options", "wanted"),
    [
        ((), "nothing says where the points are"),
        (("--place", "H1=0"), "is no name and place"),
        (("--place", "H1=x,0"), "x"),
    ],
)
def test_places_are_asked_for_when_they_are_missing(tmp_path: Path, options: tuple[str, ...], wanted: str) -> None:
    """Without known points, or with one that cannot be read, exit is 2 with the way to write it."""
    done = run("level", ties(tmp_path), *options)
    assert done.status == 2
    assert wanted in done.err
    assert says_no_traceback(done)
