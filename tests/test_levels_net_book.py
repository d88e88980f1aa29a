"""Files of levelled lines: read, closed, adjusted, and the line that is wrong."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from command_line import run, says_no_traceback
from spadework.errors import InputError, MisclosureError
from spadework.levels import tolerance_rule
from spadework.levels.fit import Precision
from spadework.levels.net_book import ReducedNet, reduce_level_net
from spadework.read import read_text
from spadework.readings import LevelNetLines
from spadework.site import load_site
from spadework.survey import load_survey

# Levels 100, 101.5, 99.2, 102.7, 100.8: every line to the millimetre.
LEVELS = {"A": 100.0, "B": 101.5, "C": 99.2, "D": 102.7, "E": 100.8}
JOINED = ("AB", "BC", "CD", "DA", "AE", "EC", "BE", "ED")


def text(
    noise: int | None = None, head: str = "from,to,rise (m),set-ups", changed: dict[str, str] | None = None
) -> str:
    """The lines of the net with half a millimetre of noise for each; some of them written otherwise."""
    rng = np.random.default_rng(noise)
    rows = [head]
    for one, two in JOINED:
        rise = LEVELS[two] - LEVELS[one] + (0.0 if noise is None else float(rng.normal(0, 0.002)))
        rows.append(f"{one},{two},{(changed or {}).get(one + two, f'{rise:.3f}')},2")
    return "\n".join(rows) + "\n"


def lines(written: str) -> LevelNetLines:
    """The lines of a text."""
    found = read_text(written)
    assert found.kind == "level-net"
    assert isinstance(found.reading, LevelNetLines)
    return found.reading


def reduced(written: str, *, tolerance: str = "10 mm", **options: object) -> ReducedNet:
    """The net reduced from A = 100."""
    return reduce_level_net(lines(written), {"A": 100.0}, tolerance=tolerance_rule(tolerance), **options)  # type: ignore[arg-type]


HEADINGS = [
    ("from,to,rise (m)\nA,B,1.5\n", [1.5]),
    ("from;to;dh (m);sd (mm)\nA;B;1,5;2\nB;C;-0,25;1,5\n", [1.5, -0.25]),
    ("Start\tEnd\tHeight difference (ft)\tLength (km)\nA\tB\t2.0\t0.4\n", [0.6096]),
    ("from,to,rise (m),fall (m),number of set-ups\nA,B,1.500,,2\nB,C,,0.250,3\n", [1.5, -0.25]),
    ("from point,to point,fall (mm)\nA,B,250\n", [-0.25]),
]


@pytest.mark.parametrize(("written", "rises"), HEADINGS, ids=["rise", "dh", "length", "rise and fall", "fall"])
def test_lines_are_read_when_headed_in_the_usual_ways(written: str, rises: list[float]) -> None:
    """Rise, difference, fall; set-ups, length or standard deviation; metres, millimetres, feet, kilometres."""
    found = lines(written)
    assert found.rise == pytest.approx(rises)
    if "sd" in written:
        assert found.sd == pytest.approx([0.002, 0.0015])
    if "km" in written:
        assert found.distance == pytest.approx([400.0])
    if "set-ups" in written:
        assert found.setups == pytest.approx([2, 3])


def test_all_faults_are_told_when_rows_are_broken() -> None:
    """A line without an end, one that goes nowhere, one without a rise, one without set-ups: four faults at once."""
    written = "from,to,rise (m),set-ups\nA,,1.0,1\nB,B,0.1,1\nB,C,,1\nC,D,0.5,none\nD,E,0.2,1\n"
    with pytest.raises(InputError) as raised:
        read_text(written)
    told = [(fault.source.line, fault.what) for fault in raised.value.faults]
    assert told == [
        (2, "the line has no to"),
        (3, "the line from B to B ends where it begins"),
        (4, "the line from B to C has no difference of level"),
        (5, "'none' is no number of set-ups"),
    ]


def test_net_is_adjusted_when_its_loops_close() -> None:
    """Levels come back to a few millimetres, four loops are judged, and nothing is accused."""
    found = reduced(text(noise=4))
    for name, level in LEVELS.items():
        assert found.net.level_of(name) == pytest.approx(level, abs=0.005)
    assert len(found.runs) == len(JOINED) - (len(LEVELS) - 1)
    assert found.suspects == ()
    assert found.net.solution.degrees_of_freedom == 4


def test_loop_goes_round_when_one_line_is_left_over() -> None:
    """A triangle of 2 set-ups a line that closes by 9 mm: the last line closes over all six."""
    found = reduced("from,to,rise (m),set-ups\nA,B,1.000,2\nB,C,0.500,2\nC,A,-1.491,2\n")
    (loop,) = found.runs
    assert (loop.setups, loop.misclosure) == (6, pytest.approx(0.009))
    # Equal weights: each line takes a third.
    assert found.net.level_of("B") == pytest.approx(100.997)
    assert found.net.level_of("C") == pytest.approx(101.494)


@pytest.mark.parametrize(
    ("line", "written", "meant", "words"),
    [
        ("CD", "4.163", 3.5, "no slip of the pen that we know"),
        ("BC", "2.300", -2.3, "a fall taken for a rise, or from and to exchanged"),
        ("DA", "-3.700", -2.7, "a whole metre out"),
        ("BE", "-0.070", -0.7, "two digits exchanged"),
    ],
)
def test_line_is_asked_about_when_it_is_written_wrongly(line: str, written: str, meant: float, words: str) -> None:
    """The loop is over the tolerance; the first question is about the line, with what was meant if a slip says."""
    with pytest.raises(MisclosureError) as raised:
        reduced(text(noise=4, changed={line: written}))
    row = JOINED.index(line) + 2
    assert f"line {row}: the rise {written} from {line[0]} to {line[1]}: did you mean" in str(raised.value)
    found = reduced(text(noise=4, changed={line: written}), allow_misclosure=True)
    assert found.overridden
    assert found.slips[0].row == row - 2
    assert any(slip.meant == pytest.approx(meant, abs=0.012) for slip in found.slips)
    assert words in found.suspects[0]


def test_bench_mark_gives_way_when_it_has_a_standard_deviation() -> None:
    """One line of 20 mm between A = 100 held and B = 101.530 give or take 10 mm: the weighted mean of both.

    B by the line 101.500 with variance 4, by itself 101.530 with variance 1: 101.524, standard deviation 20 / sqrt(5).
    """
    table = lines("from,to,rise (m),sd (mm)\nA,B,1.500,20\n")
    precision = Precision(0.002, bench_sd={"b": 0.01})
    known = {"A": 100.0, "B": 101.530}
    found = reduce_level_net(table, known, tolerance=tolerance_rule("50 mm"), precision=precision)
    assert found.net.level_of("B") == pytest.approx(101.524)
    row = found.net.point.index("B")
    assert float(found.net.expected_sd[row]) == pytest.approx(0.02 / 5**0.5)
    assert found.net.loose == ("B",)
    assert found.net.solution.redundancy == pytest.approx([0.8, 0.2])


def test_bench_marks_are_observations_when_all_have_one() -> None:
    """Three bench marks of different sd, none held: the answer of weighted equations solved by a general library."""
    table = lines(text(noise=6))
    known = {"A": 100.004, "C": 99.197, "D": 102.703}
    sds = {"A": 0.004, "C": 0.002, "D": 0.003}
    precision = Precision(0.002, bench_sd=sds)
    found = reduce_level_net(table, known, tolerance=tolerance_rule("50 mm"), precision=precision)
    names = list(LEVELS)
    design, goal = [], []
    for one, two, rise in zip(table.start, table.end, table.rise, strict=True):
        row = np.zeros(5)
        row[names.index(two)], row[names.index(one)] = 1.0, -1.0
        design.append(row / 0.004)
        goal.append(rise / 0.004)
    for name, level in known.items():
        row = np.zeros(5)
        row[names.index(name)] = 1.0
        design.append(row / sds[name])
        goal.append(level / sds[name])
    answer = np.linalg.lstsq(np.array(design), np.array(goal), rcond=None)[0]
    covariance = np.linalg.inv(np.array(design).T @ np.array(design))
    for place, name in enumerate(names):
        assert found.net.level_of(name) == pytest.approx(answer[place], abs=1e-9)
        sd = float(found.net.expected_sd[found.net.point.index(name)])
        assert sd == pytest.approx(float(np.sqrt(covariance[place, place])))


def test_net_is_refused_when_no_level_is_known_or_no_length_is_there() -> None:
    """What is missing is asked for by name."""
    rule = tolerance_rule("10 mm")
    with pytest.raises(InputError, match="no point of standard input has a known level"):
        reduce_level_net(lines(text()), {"X": 1.0}, tolerance=rule)
    with pytest.raises(InputError, match="have no lengths"):
        reduce_level_net(lines(text()), {"A": 100.0}, tolerance=tolerance_rule("12 mm*sqrt(km)"))


SITE = """[site]
units = "m"
datum = { point = "A", level = 100.0 }

[levels]
bench-marks = { D = { level = "102.704 m", sd = "5 mm" } }

[[readings]]
file = "net.csv"

[[readings]]
file = "points.csv"
"""


def test_levels_come_from_the_net_when_a_site_has_one(tmp_path: Path) -> None:
    """Points without levels take theirs, and how sure it is, from the net; a bench mark with an sd gives way."""
    (tmp_path / "site.toml").write_text(SITE, encoding="utf-8")
    (tmp_path / "net.csv").write_text(text(noise=4), encoding="utf-8")
    points = "point,east (m),north (m)\nA,0,0\nB,10,0\nC,0,10\nD,10,10\nE,5,5\n"
    (tmp_path / "points.csv").write_text(points, encoding="utf-8")
    survey = load_survey(load_site(tmp_path))
    assert survey.shots is not None
    assert survey.shots.level_sd is not None
    for row, name in enumerate(survey.shots.point):
        assert survey.shots.level[row] == pytest.approx(LEVELS[name], abs=0.006)
        sd = float(survey.shots.level_sd[row])
        assert sd == 0.0 if name == "A" else 0.001 < sd < 0.005
    assert any("8 lines, 5 more than needed, weighed by set-ups" in sentence for sentence in survey.sentences)
    (net,) = survey.level_nets
    assert net.net.loose == ("D",)
    shown = run("ground", tmp_path)
    assert shown.status == 0
    assert "Levels of net.csv, adjusted as a net:" in shown.out


def test_bench_mark_gives_way_in_a_level_book_when_it_has_a_standard_deviation(tmp_path: Path) -> None:
    """A run from A = 100 to B = 101.530 give or take 10 mm, one set-up of two readings of 10 mm: the weighted mean.

    By the readings 101.500 with variance 200, by itself 101.530 with variance 100: 101.520.
    """
    book = tmp_path / "book.csv"
    book.write_text("point,BS (m),FS (m)\nA,2.500000,\nB,,1.000000\n", encoding="utf-8")
    options = ("--known", "A=100", "--adjust", "least-squares", "--sd", "10 mm", "--tolerance", "50 mm", "--json")
    loose = json.loads(run("level", book, *options, "--known", "B=101.530 +- 10 mm").out)
    assert loose["rows"][1]["level"] == pytest.approx(101.520, abs=1e-6)
    assert loose["rows"][1]["level_sd"] == pytest.approx((100 * 200 / 300) ** 0.5 / 1000, rel=1e-6)
    held = json.loads(run("level", book, *options, "--known", "B=101.530").out)
    assert held["rows"][1]["level"] == pytest.approx(101.530)


def test_net_is_printed_with_exit_1_when_a_loop_is_over_the_tolerance(tmp_path: Path) -> None:
    """The table first, then why it stops; without a known level exit is 2 with the way to give one."""
    path = tmp_path / "net.csv"
    path.write_text(text(noise=4, changed={"DA": "-3.700"}), encoding="utf-8")
    done = run("level", path, "--known", "A=100")
    assert done.status == 1
    assert "OVER THE TOLERANCE" in done.out
    assert "standard error" in done.out
    assert "did you mean -2.700 (a whole metre out)?" in done.err
    bare = run("level", path)
    assert bare.status == 2
    assert '--known "A=100.0"' in bare.err
    assert says_no_traceback(bare)
