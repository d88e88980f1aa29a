"""All that a site measures between points as one net: files together, what hangs on them, and the ways to adjust."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from spadework.errors import MisclosureError
from spadework.site import load_site
from spadework.survey_parts import ReadParts, read_parts

HOUSE = {"H1": (0.0, 0.0), "H2": (18.0, 0.0), "H3": (9.0, 14.0)}
YARD = {"Q1": (2.0, 3.0), "Q2": (9.0, 2.5), "Q3": (15.5, 4.0), "Q4": (3.5, 9.0), "Q5": (10.0, 10.5)}
PLACES = "places = { H1 = [0, 0], H2 = [18, 0], H3 = [9, 14] }"


def read(folder: Path, files: dict[str, tuple[str, str]], rest: str = "") -> ReadParts:
    """The files of a site, each with the lines of its table."""
    tables = "".join(f'[[readings]]\nfile = "{name}"\n{lines}\n\n' for name, (_, lines) in files.items())
    (folder / "site.toml").write_text(f'[site]\nunits = "m"\n{rest}\n\n{tables}', encoding="utf-8")
    for name, (text, _) in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    found = read_parts(load_site(folder), allow_misclosure=False)
    assert found.faults == ()
    return found


def place(found: ReadParts, name: str, file: int = 0) -> tuple[float, float]:
    """Where a point of a file lies."""
    shots = found.parts[file].shots
    assert shots is not None
    row = shots.rows(name)[0]
    return float(shots.east[row]), float(shots.north[row])


def ties(noise: float = 0.0, seed: int = 1, corners: int = 3) -> str:
    """Every point from the corners of the house, to the millimetre."""
    rng = np.random.default_rng(seed)
    names = list(HOUSE)[:corners]
    rows = ["point," + ",".join(f"from {name} (m)" for name in names) + ",side"]
    for name, spot in YARD.items():
        cells = [f"{math.dist(spot, HOUSE[other]) + float(rng.normal(0, noise)):.3f}" for other in names]
        rows.append(f"{name},{','.join(cells)},left")
    return "\n".join(rows) + "\n"


def sights(noise: float = 0.0, seed: int = 2, station: str = "H1") -> str:
    """Every point from one station, the circle turned by a sight on another corner; to a second and a millimetre."""
    rng = np.random.default_rng(seed)
    rows = ["station,point,angle (dms),distance (m)"]
    for name, spot in {**HOUSE, **YARD}.items():
        if name == station:
            continue
        de, dn = np.subtract(spot, HOUSE[station])
        seconds = round((math.degrees(math.atan2(de, dn)) % 360.0) * 3600)
        angle = f"{seconds // 3600}-{seconds // 60 % 60:02d}-{seconds % 60:02d}"
        rows.append(f"{station},{name},{angle},{math.hypot(de, dn) + float(rng.normal(0, noise)):.3f}")
    return "\n".join(rows) + "\n"


def test_two_files_are_one_net_when_they_measure_the_same_points(tmp_path: Path) -> None:
    """Fifteen ties and seven sights of a total station: 29 measurements of five places and one circle.

    A point stands in both files at one place, between what each file alone says, and nearer to the surer one.
    """
    files = {"ties.csv": (ties(noise=0.02), PLACES), "sights.csv": (sights(noise=0.003), PLACES)}
    both = read(tmp_path, files)
    assert both.net is not None
    assert len(both.net.net.observations) == 15 + 2 * 7
    assert both.net.net.solution.degrees_of_freedom == 29 - 11
    assert {name for name in YARD if place(both, name)} == set(YARD)
    alone = read(tmp_path, {"ties.csv": files["ties.csv"]})
    off = [math.dist(place(found, name), YARD[name]) for found in (both, alone) for name in YARD]
    assert sum(off[:5]) < 0.6 * sum(off[5:])
    sd = both.parts[0].shots
    assert sd is not None
    assert sd.position_sd is not None
    assert np.nanmax(sd.position_sd[:5]) < 0.01


def test_strings_hang_on_adjusted_pegs_when_the_pegs_were_tied(tmp_path: Path) -> None:
    """A string from Q1 to Q3: its drops lie on the line between the adjusted places, not between the first ones."""
    files = {
        "drops.csv": (
            "string,along (m),drop (m)\nA,0,0.4\nA,5,0.5\n",
            'strings = { A = { from = "Q1", to = "Q3", level = "100 m" } }',
        ),
        "ties.csv": (ties(noise=0.02), PLACES),
        "sights.csv": (sights(noise=0.002), PLACES),
    }
    found = read(tmp_path, files)
    shots = found.parts[0].shots
    assert shots is not None
    assert (float(shots.east[0]), float(shots.north[0])) == pytest.approx(place(found, "Q1", 1), abs=1e-9)
    assert (float(shots.east[0]), float(shots.north[0])) != pytest.approx(YARD["Q1"], abs=1e-6)


def test_points_stay_when_nothing_is_to_be_adjusted(tmp_path: Path) -> None:
    """With adjust = "none" there is no net, and no sentence of one."""
    rest = '[positions]\nadjust = "none"'
    found = read(tmp_path, {"ties.csv": (ties(noise=0.02), PLACES)}, rest)
    assert found.net is None
    assert not any("adjusted" in sentence for sentence in found.parts[0].sentences)


WALK = "from,to,distance (m),slope (%),bearing\nA,P,4.000,0,90\nP,Q,4.000,0,90\nQ,B,2.000,0,90\n"
WALKED = 'places = { A = [0, 0, 100], B = ["10.1 m", 0, "100.05 m"] }'


WAYS = {
    "compass": ((4.04, 8.08), (100.02, 100.04)),
    "least-squares": ((4.0 + 0.1 / 3, 8.0 + 0.2 / 3), (100.0 + 0.05 / 3, 100.0 + 0.1 / 3)),
    "none": ((4.0, 8.0), (100.0, 100.0)),
}


@pytest.mark.parametrize(("adjust", "east", "level"), [(way, *places) for way, places in WAYS.items()], ids=WAYS)
def test_walk_is_closed_in_the_way_that_the_site_asks_for(
    tmp_path: Path, adjust: str, east: tuple[float, float], level: tuple[float, float]
) -> None:
    """Three legs fall 100 mm short and 50 mm low: by their length (4, 4, 2), in equal parts, or not at all."""
    found = read(tmp_path, {"walk.csv": (WALK, WALKED)}, f'[positions]\nadjust = "{adjust}"')
    shots = found.parts[0].shots
    assert shots is not None
    for name, wanted, high in zip(("P", "Q"), east, level, strict=True):
        row = shots.rows(name)[0]
        assert float(shots.east[row]) == pytest.approx(wanted, abs=2e-6)
        assert float(shots.level[row]) == pytest.approx(high, abs=1e-6)
    words = {"compass": "compass rule", "least-squares": "adjusted by least squares", "none": "Nothing of this"}
    assert any(words[adjust] in notice for notice in found.parts[0].notices)


def test_walk_stops_the_site_when_it_closes_far_worse_than_it_should(tmp_path: Path) -> None:
    """A metre out after three legs of 50 mm: stopped with where to look, and let pass where the site file says so."""
    far = WALKED.replace("10.1 m", "11 m")
    with pytest.raises(MisclosureError, match="look for a leg with a wrong length, slope or bearing"):
        read(tmp_path, {"walk.csv": (WALK, far)})
    found = read(tmp_path, {"walk.csv": (WALK, far)}, "[levels]\nallow-misclosure = true")
    (override,) = found.parts[0].overrides
    assert override.startswith("The walk comes to B 1.000 m from where it is known to be")
    assert override.endswith("Taken all the same, because allow-misclosure was set.")


def test_known_points_check_a_tie_when_both_its_ends_are_known(tmp_path: Path) -> None:
    """Ties between points of a list place nothing, and the one that is a metre out is asked about all the same."""
    points = "point,east (m),north (m)\n" + "".join(f"{name},{e},{n}\n" for name, (e, n) in {**HOUSE, **YARD}.items())
    rows = ties().replace(f"{math.dist(YARD['Q4'], HOUSE['H2']):.3f}", f"{math.dist(YARD['Q4'], HOUSE['H2']) + 1:.3f}")
    found = read(tmp_path, {"points.csv": (points, ""), "ties.csv": (rows, "")})
    assert found.net is not None
    assert found.net.net.point == ()
    told = [notice for notice in found.parts[1].notices if "did you mean" in notice]
    assert len(told) == 1
    assert "from H2 to Q4" in told[0]
    assert "(a whole metre out)" in told[0]


def test_points_are_held_when_they_come_from_a_fitted_file(tmp_path: Path) -> None:
    """Ties from points of a file in axes of its own, once that is laid over the others."""
    base = "point,east (m),north (m)\nC1,0,0\nC2,20,0\nC3,0,20\n"
    turned = {"C1": (50.0, 50.0), "C2": (50.0, 70.0), "C3": (30.0, 50.0)}
    turned |= {name: (50.0 - north, 50.0 + east) for name, (east, north) in {**HOUSE, **YARD}.items() if name[0] == "H"}
    own = "point,east (m),north (m)\n" + "".join(f"{name},{e},{n}\n" for name, (e, n) in turned.items())
    files = {"base.csv": (base, ""), "own.csv": (own, 'fit = "turn"'), "ties.csv": (ties(noise=0.005), "")}
    found = read(tmp_path, files)
    assert found.net is not None
    assert found.net.net.solution.degrees_of_freedom == 15 - 10
    for name, spot in YARD.items():
        assert place(found, name, 2) == pytest.approx(spot, abs=0.02)


def fitted(folder: Path, *, east: float = 32.10) -> ReadParts:
    """Five points of a file in axes turned by 90 degrees, laid over a base; C4 with another east."""
    base = {"C1": (2.10, 3.40), "C2": (20.30, 2.20), "C3": (18.70, 19.60), "C4": (3.30, 17.90), "C5": (11.20, 9.80)}
    own = {name: (50.0 - north, 30.0 + e) for name, (e, north) in base.items()}
    assert own["C4"][0] == pytest.approx(32.10)
    own["C4"] = (east, own["C4"][1])
    files = {
        name: (
            "point,east (m),north (m)\n" + "".join(f"{key},{e:.2f},{n:.2f}\n" for key, (e, n) in table.items()),
            more,
        )
        for name, table, more in (("base.csv", base, ""), ("own.csv", {**own, "X": (45.0, 35.0)}, 'fit = "turn"'))
    }
    return read(folder, files)


def test_fit_says_how_sure_it_is_when_its_points_agree(tmp_path: Path) -> None:
    """Turn and shift with their standard errors, and no question."""
    found = fitted(tmp_path)
    (said,) = [sentence for sentence in found.parts[1].sentences if "fitted on" in sentence]
    assert "own.csv fitted on 5 common points: turned 90.000° ± 0.000°" in said
    assert "(standard errors)" in said
    assert not any("did you mean" in notice for notice in found.parts[1].notices)
    assert place(found, "X", 1) == pytest.approx((5.0, 5.0), abs=0.01)


def test_common_point_is_asked_about_when_its_digits_changed_places(tmp_path: Path) -> None:
    """C4 east 32.10 written 23.10: nine metres off, and what was meant is asked."""
    notices = fitted(tmp_path, east=23.10).parts[1].notices
    (asked,) = [notice for notice in notices if "did you mean" in notice]
    assert asked.startswith("C4 of own.csv lies 9.0")
    assert "its east is 23.100 m, did you mean 32.100 m (two digits exchanged)?" in asked
