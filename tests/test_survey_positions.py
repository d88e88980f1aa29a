"""Every way of measuring through a whole site: readings worked out backwards from a known ground give that ground."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from spadework.errors import InputError
from surveyed_yard import BOOK_CLOSED, DATUM, HOUSE, POINTS, STATION, YARD, check_yard, level, surveyed


def test_ties_when_levels_come_from_a_book(tmp_path: Path) -> None:
    """Two tapes and a side give positions, a level book the levels."""
    rows = []
    for name, east, north in YARD:
        a, b = (math.hypot(east - e, north - n) for _, e, n in HOUSE)
        rows.append(f"{name},{a:.4f},{b:.4f},left\n")
    ties = "point,from H1 (m),from H2 (m),side\n" + "".join(rows)
    readings = (
        '[[readings]]\nfile = "ties.csv"\nplaces = { H1 = [0, 0], H2 = [18, 0] }\n\n[[readings]]\nfile = "book.csv"'
    )
    survey = surveyed(tmp_path, readings, {"ties.csv": ties, "book.csv": BOOK_CLOSED}, head=DATUM)
    check_yard(survey)
    assert survey.shots is not None
    assert survey.shots.rows("H1")


def test_point_listed_at_two_places_is_refused_when_its_level_comes_by_name(tmp_path: Path) -> None:
    """A book has one level of Q2, a list two places: the level is put at neither; a place repeated is one place."""
    first = POINTS.replace(",level (m)", "").splitlines()
    rows = [line.rsplit(",", 1)[0] if number else line for number, line in enumerate(first)]
    again = next(line for line in rows if line.startswith("Q2,"))
    files = {"points.csv": "\n".join([*rows, again, "q2,11.5,3.25", ""]), "book.csv": BOOK_CLOSED}
    readings = '[[readings]]\nfile = "points.csv"\n\n[[readings]]\nfile = "book.csv"'
    with pytest.raises(InputError) as caught:
        surveyed(tmp_path, readings, files, head=DATUM)
    (fault,) = caught.value.faults
    apart = math.dist((11.5, 3.25), next((east, north) for name, east, north in YARD if name == "Q2"))
    assert (
        fault.what
        == f"q2 is listed a second time, {apart:.3f} m from where points.csv line {rows.index(again) + 1} has it"
    )
    assert (fault.source.file, fault.source.line) == ("points.csv", len(rows) + 2)
    files["points.csv"] = "\n".join([*rows, again, ""])
    check_yard(surveyed(tmp_path, readings, files, head=DATUM))


def test_ties_when_three_distances_check_each_other(tmp_path: Path) -> None:
    """Long form, three references and ties between the points: one net, and exchanged digits are asked about."""
    references = (*HOUSE, ("H3", 9.0, 14.0))
    rows = []
    for number, (name, east, north) in enumerate(YARD):
        for reference, e, n in (*references, *YARD[:number]):
            away = f"{math.hypot(east - e, north - n):.2f}"
            rows.append([name, reference, away])
    wrong = next(row for row in rows if row[:2] == ["Q5", "H1"])
    true = wrong[2]
    assert true == "14.50"
    wrong[2] = "41.50"
    readings = (
        '[[readings]]\nfile = "ties.csv"\nplaces = { H1 = [0, 0], H2 = [18, 0], H3 = [9, 14] }\n\n'
        '[[readings]]\nfile = "book.csv"'
    )
    text = "point,from,distance (m)\n" + "".join(f"{','.join(row)}\n" for row in rows)
    survey = surveyed(tmp_path, readings, {"ties.csv": text, "book.csv": BOOK_CLOSED}, head=DATUM)
    asked = [notice for notice in survey.notices if "did you mean" in notice and "ties.csv" in notice]
    assert len(asked) == 1
    assert (
        f"the distance from H1 to Q5 is written {wrong[2]} m: did you mean {true} m (two digits exchanged)?" in asked[0]
    )
    assert any("Places adjusted by least squares: 42 measurements of 7 places, 28 more than needed" in sentence
               for sentence in survey.sentences)  # fmt: skip
    assert survey.net is not None
    assert survey.shots is not None
    assert survey.shots.position_sd is not None
    # Until it is mended no place of the net is sure.
    assert float(survey.shots.position_sd[survey.shots.rows("Q1")[0]]) > 0.5


def test_ties_when_nothing_places_their_references(tmp_path: Path) -> None:
    """The file says which known points are missing and how to give them."""
    with pytest.raises(InputError, match=r"counts from A, B, and nothing says where they are.*places = \{ \"A\""):
        surveyed(tmp_path, '[[readings]]\nfile = "t.csv"', {"t.csv": "point,from A (m),from B (m),side\nQ,3,4,left\n"})


def dms(angle: float) -> str:
    """Write an angle as degrees, minutes and seconds to a tenth of a second."""
    tenths = round(angle * 36000)
    degrees, rest = divmod(abs(tenths), 36000)
    minutes, seconds = divmod(rest, 600)
    return f"{'-' if tenths < 0 else ''}{degrees}-{minutes:02d}-{seconds / 10:04.1f}"


@pytest.mark.parametrize("form", ["dms", "gon", "bearing"])
def test_radial_when_angles_and_vertical_angles_are_read(tmp_path: Path, form: str) -> None:
    """A total station over S1, turned by a sight on H1: angles in three notations, slope distance, vertical angle."""
    turn = 0.0 if form == "bearing" else 37.123
    head = {"dms": "angle (dms)", "gon": "angle (gon)", "bearing": "azimuth"}[form]
    axis = level(*STATION[1:]) + 1.52
    rows = []
    for name, east, north in (*HOUSE, *YARD):
        de, dn = east - STATION[1], north - STATION[2]
        angle = (math.degrees(math.atan2(de, dn)) - turn) % 360.0
        away, up = math.hypot(de, dn), level(east, north) + 1.60 - axis
        written = {"dms": dms(angle), "gon": f"{angle / 0.9:.5f}", "bearing": quadrant(angle)}[form]
        rows.append(
            f"S1,{name},{written},{math.hypot(away, up):.4f},{dms(math.degrees(math.atan2(up, away)))},1.60,1.52\n"
        )
    text = f"station,point,{head},slope distance (m),vertical angle (dms),rod (m),hi (m)\n" + "".join(rows)
    places = f"places = {{ S1 = [8, -4, {level(*STATION[1:]):.4f}], H1 = [0, 0] }}"
    survey = surveyed(tmp_path, f'[[readings]]\nfile = "radial.csv"\n{places}', {"radial.csv": text})
    check_yard(survey)
    assert any("H1 seen from S1 comes" in notice for notice in survey.notices)


def quadrant(angle: float) -> str:
    """Write a bearing by its quadrant."""
    letters = ("N", "E") if angle < 90 else ("S", "E") if angle < 180 else ("S", "W") if angle < 270 else ("N", "W")
    inner = angle if angle < 90 else 180 - angle if angle < 180 else angle - 180 if angle < 270 else 360 - angle
    return f"{letters[0]}{dms(inner)}{letters[1]}"


def test_radial_when_distances_come_from_stadia_wires(tmp_path: Path) -> None:
    """Three wires to 0.1 mm and a zenith angle give positions to a centimetre or two and levels to millimetres."""
    axis = level(*STATION[1:]) + 1.40
    rows = []
    for name, east, north in YARD:
        de, dn = east - STATION[1], north - STATION[2]
        away = math.hypot(de, dn)
        up = level(east, north) + 1.2 - axis
        tilt = math.atan2(up, away)
        half = away / (200.0 * math.cos(tilt) ** 2)
        zenith = 90.0 - math.degrees(tilt)
        wires = ",".join(f"{1.2 + side * half:.4f}" for side in (1, 0, -1))
        rows.append(f"S1,{name},{math.degrees(math.atan2(de, dn)) % 360:.4f},{dms(zenith)},{wires},1.40\n")
    text = "set-up,point,bearing (deg),zenith (dms),upper (m),middle (m),lower (m),ih (m)\n" + "".join(rows)
    places = f"places = {{ S1 = [8, -4, {level(*STATION[1:]):.4f}] }}"
    survey = surveyed(tmp_path, f'[[readings]]\nfile = "stadia.csv"\n{places}', {"stadia.csv": text})
    check_yard(survey, places=0.02, levels=0.003)
    assert "7 distances by stadia wires" in survey.sentences[0]


def test_radial_when_a_second_set_up_stands_on_a_sighted_point(tmp_path: Path) -> None:
    """S2 stands on Q7 as seen from S1, and is turned by sighting S1 back; rods give the levels."""
    rows = []
    for station, (east0, north0), turn, targets in (
        ("S1", STATION[1:], 10.0, YARD[:3] + YARD[6:]),
        ("Q7", YARD[6][1:], 200.0, (STATION, *YARD[3:6])),
    ):
        axis = level(east0, north0) + 1.5
        for name, east, north in targets:
            de, dn = east - east0, north - north0
            angle = (math.degrees(math.atan2(de, dn)) - turn) % 360.0
            rows.append(f"{station},{name},{angle:.5f},{math.hypot(de, dn):.4f},{axis - level(east, north):.4f},1.5\n")
    text = "station,point,angle (deg),distance (m),rod (m),hi (m)\n" + "".join(rows)
    places = f"places = {{ S1 = [8, -4, {level(*STATION[1:]):.4f}] }}\nzero = {{ S1 = 10 }}"
    check_yard(surveyed(tmp_path, f'[[readings]]\nfile = "r.csv"\n{places}', {"r.csv": text}))


def test_radial_when_nothing_turns_the_circle(tmp_path: Path) -> None:
    """Angles of a circle that no known point and no zero turns are refused with the way out."""
    text = "station,point,angle (deg),distance (m),rod (m)\nS1,Q1,10,5,1.2\nS1,Q2,20,6,1.3\n"
    with pytest.raises(InputError, match=r"which way the circle of station S1 was turned"):
        surveyed(tmp_path, '[[readings]]\nfile = "r.csv"\nplaces = { S1 = [0, 0, 100] }', {"r.csv": text})


def test_string_lines_when_their_pegs_are_named_points(tmp_path: Path) -> None:
    """Strings between pegs of another file, one of them sloping, give the ground below them."""
    pegs = "point,east (m),north (m)\nA1,1,2\nA2,16,2\nB1,1,9\nB2,16,10\n"
    ends = {"A": ((1.0, 2.0), (16.0, 2.0), 101.0, 101.0), "B": ((1.0, 9.0), (16.0, 10.0), 101.0, 101.6)}
    rows = []
    for name, (start, end, low, high) in ends.items():
        length = math.dist(start, end)
        for along in np.linspace(0, length, 7):
            share = along / length
            east, north = (s + share * (e - s) for s, e in zip(start, end, strict=True))
            rows.append(f"{name},{along:.4f},{low + share * (high - low) - level(east, north):.4f}\n")
    text = "string,along (m),drop (m)\n" + "".join(rows)
    readings = (
        '[[readings]]\nfile = "drops.csv"\nstrings = { A = { from = "A1", to = "A2", level = "101 m" }, '
        'B = { from = "B1", to = "B2", level = "101 m", end-level = "101.6 m" } }\n\n[[readings]]\nfile = "pegs.csv"'
    )
    survey = surveyed(tmp_path, readings, {"drops.csv": text, "pegs.csv": pegs})
    assert survey.shots is not None
    rows_read = [row for row, name in enumerate(survey.shots.point) if "-" in name]
    assert len(rows_read) == 14
    for row in rows_read:
        true = level(float(survey.shots.east[row]), float(survey.shots.north[row]))
        assert survey.shots.level[row] == pytest.approx(true, abs=0.0002)


def test_string_lines_when_strings_lie_side_by_side(tmp_path: Path) -> None:
    """Strings named by their distance across, laid out from an origin along a bearing of 90 degrees."""
    rows = [
        f"{across},{along},{101.0 - level(2 + along, 5 - across):.4f}\n" for across in (0, 2, 4) for along in (0, 3, 6)
    ]
    text = "line,distance (m),drop (m)\n" + "".join(rows)
    readings = '[[readings]]\nfile = "d.csv"\nline-level = "101 m"\norigin = [2, 5]\nbearing = 90'
    survey = surveyed(tmp_path, readings, {"d.csv": text})
    assert survey.shots is not None
    for row in range(len(survey.shots)):
        true = level(float(survey.shots.east[row]), float(survey.shots.north[row]))
        assert survey.shots.level[row] == pytest.approx(true, abs=0.0002)
    assert float(survey.shots.north.min()) == pytest.approx(1.0)


def test_slope_walk_when_it_comes_back(tmp_path: Path) -> None:
    """A walk round the yard: distance along the ground, percent, bearing; it closes on where it started."""
    order = [YARD[i] for i in (0, 1, 2, 5, 4, 3, 6, 0)]
    rows = []
    for (name, e0, n0), (other, e1, n1) in pairwise(order):
        away, up = math.hypot(e1 - e0, n1 - n0), level(e1, n1) - level(e0, n0)
        bearing = math.degrees(math.atan2(e1 - e0, n1 - n0)) % 360
        rows.append(f"{name},{other},{math.hypot(away, up):.4f},{100 * up / away:.4f},{bearing:.4f}\n")
    text = "from,to,distance (m),slope (%),bearing\n" + "".join(rows)
    readings = f'[[readings]]\nfile = "w.csv"\norigin = [2, 3]\nline-level = {level(2, 3):.4f}'
    survey = surveyed(tmp_path, readings, {"w.csv": text})
    check_yard(survey)
    assert any(notice.startswith("The walk comes to Q1 0.000 m") for notice in survey.notices)


def test_slope_walk_when_percent_or_degrees_is_not_said(tmp_path: Path) -> None:
    """One question for the whole column."""
    text = "from,to,distance (m),slope\nA,B,10,5\nB,C,10,4\n"
    with pytest.raises(InputError, match="percent or degrees") as raised:
        surveyed(tmp_path, '[[readings]]\nfile = "w.csv"\norigin = [0, 0]\nbearing = 0', {"w.csv": text})
    assert len(raised.value.faults) == 1


def test_stations_when_the_baseline_runs_between_named_points(tmp_path: Path) -> None:
    """Station and offset as names of points in a rod list, the baseline between two listed points, in feet."""
    foot = 0.3048
    names = ["0+00 L 10", "0+00 R 10", "0+25 L 10", "0+25 R 10", "0+50"]
    spots = [(0, -10), (0, 10), (25, -10), (25, 10), (50, 0)]
    bearing = math.atan2(30.0, 40.0)
    rows, true = [], []
    for name, (along, right) in zip(names, spots, strict=True):
        east = foot * (along * math.sin(bearing) + right * math.cos(bearing))
        north = foot * (along * math.cos(bearing) - right * math.sin(bearing))
        true.append((east, north))
        rows.append(f"{name},{(101.5 - level(east, north)) / foot:.3f}\n")
    text = f"point,rod (decimal ft)\nBM1,{1.5 / foot:.3f}\n" + "".join(rows)
    ends = "point,east (ft),north (ft)\nK1,0,0\nK2,30,40\n"
    readings = (
        '[[readings]]\nfile = "rods.csv"\nbaseline = { from = "K1", to = "K2" }\n\n[[readings]]\nfile = "ends.csv"'
    )
    head = 'units = "ft"\ndatum = { point = "BM1", level = "100 m" }'
    survey = surveyed(tmp_path, readings, {"rods.csv": text, "ends.csv": ends}, head=head)
    assert survey.shots is not None
    for name, (east, north) in zip(names, true, strict=True):
        row = survey.shots.rows(name)[0]
        assert (survey.shots.east[row], survey.shots.north[row]) == pytest.approx((east, north), abs=1e-6)
        assert survey.shots.level[row] == pytest.approx(level(east, north), abs=0.0005)


def test_stations_when_they_stand_in_columns(tmp_path: Path) -> None:
    """Columns station and offset in place of east and north."""
    text = "point,station,offset,rod (m)\nBM1,,,1.5\n1,1+05.00,L 2.5,1.4\n2,1+05.00,R 2.5,1.3\n3,1+10,-1,1.2\n"
    readings = '[[readings]]\nfile = "r.csv"\nbaseline = { from = [50, 20], bearing = 90, station = 100 }'
    survey = surveyed(tmp_path, readings, {"r.csv": text}, head=DATUM)
    assert survey.shots is not None
    rows = [survey.shots.rows(name)[0] for name in ("1", "2", "3")]
    places = np.column_stack([survey.shots.east[rows], survey.shots.north[rows]])
    assert places == pytest.approx(np.array([[55, 22.5], [55, 17.5], [60, 21]]), abs=1e-9)


def test_grid_labels_when_a_level_book_names_squares(tmp_path: Path) -> None:
    """A level book whose points are called A1 to C2 becomes ground by the squares of a 3 m grid."""
    rows = [
        f"{letter}{row + 1},,{101.5 - level(1 + 3 * column, 2 + 4 * row):.4f},\n"
        for row in range(2)
        for column, letter in enumerate("ABC")
    ]
    text = "point,BS (m),IS (m),FS (m)\nBM1,1.5,,\n" + "".join(rows) + "BM1,,,1.5\n"
    readings = '[[readings]]\nfile = "book.csv"\ngrid = { spacing = ["3 m", "4 m"], origin = [1, 2] }'
    survey = surveyed(tmp_path, readings, {"book.csv": text}, head=DATUM)
    assert survey.shots is not None
    row = survey.shots.rows("C2")[0]
    assert (survey.shots.east[row], survey.shots.north[row]) == pytest.approx((7.0, 6.0))
    assert survey.shots.level[row] == pytest.approx(level(7, 6), abs=1e-4)
    assert math.isnan(survey.shots.east[survey.shots.rows("BM1")[0]])


def test_tape_when_it_is_too_long(tmp_path: Path) -> None:
    """Ties taped with a tape 12 mm long in 30 m come out right once it is corrected."""
    rows = []
    for name, east, north in YARD:
        a, b = (math.hypot(east - e, north - n) / (1 + 0.012 / 30) for _, e, n in HOUSE)
        rows.append(f"{name},{a:.5f},{b:.5f},left\n")
    ties = "point,from H1 (m),from H2 (m),side\n" + "".join(rows)
    table = 'tape = { length = "30 m", true-length = "30.012 m" }\nplaces = { H1 = [0, 0], H2 = [18, 0] }'
    readings = f'[[readings]]\nfile = "ties.csv"\n{table}\n\n[[readings]]\nfile = "book.csv"'
    survey = surveyed(tmp_path, readings, {"ties.csv": ties, "book.csv": BOOK_CLOSED}, head=DATUM)
    check_yard(survey, places=0.0002)
    assert "Taped distances corrected for length +12.0 mm in 30 m." in survey.sentences


def test_three_wires_when_they_stand_in_one_cell(tmp_path: Path) -> None:
    """Readings at three wires are meaned, and uneven halves are named with their line."""
    rows = "".join(
        f"{n},{e},{o},{101.5 - level(e, o) + 0.05:.3f}/{101.5 - level(e, o):.3f}/{101.5 - level(e, o) - 0.05:.3f}\n"
        for n, e, o in YARD
    )
    text = "point,east (m),north (m),rod (m)\nBM1,,,1.55/1.50/1.45\n" + rows + "Z9,1,1,1.60/1.55/1.48\n"
    survey = surveyed(tmp_path, '[[readings]]\nfile = "r.csv"', {"r.csv": text}, head=DATUM)
    check_yard(survey, levels=0.001)
    assert any("9 readings in rod (m) taken at three wires" in notice for notice in survey.notices)
    assert any("20 mm in line 10: was a wire misread?" in notice for notice in survey.notices)
