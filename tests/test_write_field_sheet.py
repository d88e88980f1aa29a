"""The field sheet: complete, self-contained, safe, in the user's unit, and right when a reading is typed."""

from __future__ import annotations

import json
import math
import re
import shutil
import subprocess
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from importlib.resources import files

import pytest

from sample_plan import HOSTILE, sample_plan
from spadework.earthwork import soil_account
from spadework.factors import SoilFactors
from spadework.haul import Haul
from spadework.pad import Pad
from spadework.plan import Plan
from spadework.stakeout import stake_out
from spadework.units import FOOT, LengthUnit, format_length
from spadework.write.field_sheet import field_sheet

EMPTY = {"meta", "input", "br", "link", "img", "hr"}


class Page(HTMLParser):
    """Reads a page strictly: every element that is opened is closed in its turn."""

    def __init__(self, page: bytes) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.words: list[str] = []
        self.scripts: list[str] = []
        self.cells: list[list[str]] = []
        self.feed(page.decode("utf-8"))
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Open an element."""
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        if tag == "tr":
            self.cells.append([])
        if tag in {"td", "th"}:
            self.cells[-1].append("")
        if tag not in EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an element of a drawing that closes itself."""
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        """Close the element that was opened last."""
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Sort words by where they stand."""
        if self.open and self.open[-1] == "script":
            self.scripts.append(data)
        elif "style" not in self.open:
            self.words.append(data)
            if {"td", "th"} & set(self.open):
                self.cells[-1][-1] += data

    @property
    def text(self) -> str:
        """All words that are read, spaces made plain."""
        return re.sub(r"\s+", " ", " ".join(self.words))

    def row(self, first: str) -> list[str]:
        """Cells of the first table row that begins so, spaces made plain."""
        return next([re.sub(r"\s+", " ", cell) for cell in row] for row in self.cells if row and row[0] == first)


@cache
def plain_sheet() -> bytes:
    """The sheet of the sample plan, drawn once."""
    return field_sheet(sample_plan())


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_field_sheet_says_what_a_sheet_must_say(unit: LengthUnit) -> None:
    """Name, date, units, datum, overrides, cautions with source, how, notices, size, levels, marks, ties, diagonals."""
    plan = sample_plan(unit, overrides=("Misclosure of 31 mm let pass.",))
    page = Page(field_sheet(plan))

    def length(metres: float) -> str:
        return format_length(metres, unit)

    for said in (
        *("Plum terrace", "2026-04-18", plan.datum, "Misclosure of 31 mm let pass."),
        *("buried services", "(common practice, no source)", "rotary laser", "Nothing checks the level of shot 7."),
        *(length(5.4), length(3.6), length(100.02), length(99.92), length(0.075), length(6.4899923)),
        *("CUT", "FILL", "Before you dig", "Setting out", "barrow"),
        *(length(tie.distance) for stake in plan.stakeout.stakes for tie in stake.ties),
    ):
        assert said in page.text, said
    words = {"m": "metres", "ft": "feet and decimals of a foot", "ft-in": "feet and inches"}[unit.value]
    assert words in page.text


def test_field_sheet_puts_overrides_before_everything_else() -> None:
    """What the user let pass is the first thing read after the heading."""
    text = Page(field_sheet(sample_plan(overrides=("Misclosure of 31 mm let pass.",)))).text
    assert text.index("Misclosure of 31 mm") < text.index("The pad")


def test_field_sheet_marks_each_stake_and_says_how_deep_to_dig() -> None:
    """Mark and depth in all of each stake, by the arithmetic of its ground level."""
    plan = sample_plan()
    page = Page(field_sheet(plan))
    for stake in plan.stakeout.stakes:
        depth = stake.ground_level - 0.075 - 99.92
        assert page.row(stake.name)[1:3] == [
            f"{'C' if depth > 0 else 'F'} {abs(depth):.2f}",
            f"{0.075 + max(depth, 0):.3f}",
        ]


def test_field_sheet_prints_rods_when_an_hi_is_given() -> None:
    """HI 101.512: 1.592 on the formation at 99.920, 1.492 on the finish at 100.020."""
    page = Page(field_sheet(sample_plan(hi=101.512)))
    assert page.row("Formation: dig or fill to this") == ["Formation: dig or fill to this", "99.920", "1.592 m"]
    assert page.row("Top of clean stone 20: finish")[1:] == ["100.020", "1.492 m"]
    assert "HI 101.512 m" in page.text


def test_field_sheet_leaves_rods_empty_when_there_is_no_hi() -> None:
    """Without a reading the place is empty, to be filled by hand or by the page."""
    page = Page(plain_sheet())
    assert page.row("Formation: dig or fill to this")[2] == ""
    levels = [float(value) for tag, name, value in page.attributes if (tag, name) == ("td", "data-level")]
    assert 99.92 in [round(level, 9) for level in levels]


def test_field_sheet_asks_for_the_hi_when_there_is_no_bench_mark() -> None:
    """With nothing to read on, the HI itself is asked for."""
    text = Page(field_sheet(sample_plan(bench=None))).text
    assert "Height of instrument, HI" in text
    assert "no bench mark" in text


def test_field_sheet_counts_barrows_and_gives_ranges() -> None:
    """Cut of V in the bank at 25 % swell, barrows of 3 ft³ (0.08495 m³); a range where factors leave one."""
    plan = sample_plan()
    soil = SoilFactors("loam", 0.25, 0.10, 0.40, 0.10, 0.05, 0.15, "a table")
    plan = replace(plan, soil=soil_account(plan.earthwork, soil))
    row = Page(field_sheet(plan)).row("Cut")
    cut = plan.earthwork.cut
    assert row[1] == f"{cut:.2f}"
    assert row[2].startswith(f"{cut * 1.25:.2f}")
    assert f"{cut * 1.10:.2f}–{cut * 1.40:.2f}" in row[2]
    assert int(row[4]) == -(-cut * 1.25 // (3 * FOOT**3))


def test_field_sheet_counts_loads_of_the_barrow_that_the_site_file_names() -> None:
    """Loads go by what one load holds: of 20 L there are more than of the garden barrow, on the page and on paper."""
    plan = sample_plan()
    loose = plan.soil.cut_loose.likely
    small = Haul((), (), (), 0.02, 10.0, 0.0, 0.0, None)  # type: ignore[arg-type]
    page = Page(field_sheet(replace(plan, haul=small)))
    assert page.row("Cut")[4] == str(math.ceil(loose / 0.02))
    assert f"{math.ceil(loose / 0.02)} barrow loads" in page.text
    assert "0.020 m³ loose" in page.text.replace("\u00a0", " ")
    assert math.ceil(loose / 0.02) > int(Page(field_sheet(plan)).row("Cut")[4])


@pytest.mark.parametrize(("bench", "mode"), [(("the level line", 101.0), "string"), (("BM1", 100.0), "rod")])
def test_field_sheet_opens_for_what_the_yard_was_measured_with(bench: tuple[str, float], mode: str) -> None:
    """Drops below a line are measured again below a line; a sentence begins with a capital."""
    page = Page(field_sheet(sample_plan(bench=bench)))
    at = page.attributes.index(("input", "id", f"mode-{mode}"))
    assert page.attributes[at + 1] == ("input", "checked", "checked")
    assert f'"mode": "{mode}"' in page.scripts[-1]
    assert f"{bench[0][0].upper()}{bench[0][1:]} is at" in page.text


def test_field_sheet_gives_the_ground_at_references_when_they_are_shots() -> None:
    """A line that was taken down is put up again from a peg whose level is known."""
    plan = sample_plan()
    assert plan.shots is not None
    named = replace(plan.shots, point=("H1", *plan.shots.point[1:]))
    page = Page(field_sheet(replace(plan, shots=named)))
    assert page.row("H1")[-1] == f"{plan.shots.level[0]:.3f}"
    assert page.row("H2")[-1] == ""


def test_field_sheet_fetches_nothing() -> None:
    """No address, no outside file: every reference points into the page itself."""
    page = plain_sheet()
    for tag, name, value in Page(page).attributes:
        assert tag not in {"link", "img", "iframe", "object", "embed"}
        if name in {"src", "href", "xlink:href", "action"}:
            assert value.startswith("#"), (tag, name, value)
        assert not name.startswith("on"), (tag, name)
    assert b"@import" not in page
    assert not re.search(rb"url\((?!#)", page)
    assert b'http-equiv="Content-Security-Policy" content="default-src \'none\'' in page


def test_field_sheet_drawings_share_no_names() -> None:
    """Names inside the page are unique, and everything that points to a name finds it."""
    page = Page(plain_sheet())
    names = [value for _, name, value in page.attributes if name == "id"]
    assert len(names) == len(set(names))
    wanted = {value[1:] for _, name, value in page.attributes if name == "xlink:href"}
    wanted |= {found for _, _, value in page.attributes for found in re.findall(r"url\(#([^)]*)\)", value)}
    assert len(wanted) > 5
    assert wanted <= set(names)


def hostile_plan() -> Plan:
    """A plan in which every word that a user can write is hostile."""
    plan = sample_plan()
    assert plan.shots is not None
    references = ((HOSTILE + "1", 2.0, 16.8), (HOSTILE + "2", 11.0, 16.8))
    layers = replace(plan.pad.build_up, layers=(replace(plan.pad.build_up.layers[0], material=HOSTILE),))
    pad = replace(plan.pad, build_up=layers)
    place = plan.search.best.placement
    return replace(
        plan,
        name=HOSTILE,
        datum=HOSTILE,
        crs=HOSTILE,
        pad=pad,
        references=references,
        bench=(HOSTILE, 100.0),
        shots=replace(plan.shots, point=(HOSTILE,) * len(plan.shots)),
        limits=replace(plan.limits, keep_outs=(replace(plan.limits.keep_outs[0], name=HOSTILE),)),
        stakeout=stake_out(plan.ground, pad, place, references, bench=(HOSTILE, 100.0)),
        cautions=(replace(plan.cautions[0], text=HOSTILE, source=HOSTILE),),
        how=(HOSTILE,),
        notices=(HOSTILE,),
        overrides=(HOSTILE,),
    )


def test_field_sheet_takes_hostile_words_as_words() -> None:
    """The page has its own script and no other, and the words are there to be read."""
    page = Page(field_sheet(hostile_plan()))
    assert page.tags.count("script") == 1
    assert "<script" not in "".join(page.scripts)
    settings = re.match(r"\s*const SHEET = (.*);\n", "".join(page.scripts))
    assert settings is not None
    assert json.loads(settings[1])["site"] == HOSTILE
    assert page.text.count('<script>alert("1")</script>') >= 12


def test_field_sheet_repeats_to_the_byte() -> None:
    """The same plan gives the same file."""
    assert field_sheet(sample_plan()) == plain_sheet()


def test_field_sheet_gives_positions_when_there_are_no_references() -> None:
    """Without references the stakes are set out by east and north."""
    plan = sample_plan(references=())
    plan = replace(plan, stakeout=stake_out(plan.ground, plan.pad, plan.search.best.placement))
    page = Page(field_sheet(plan))
    assert "names no two references" in page.text
    assert f"{plan.stakeout.stakes[0].east:.3f}" in page.text


def test_field_sheet_leaves_out_squaring_when_the_pad_is_no_rectangle() -> None:
    """A pad of another shape has sides and diagonals to check, but none that must be equal."""
    plan = sample_plan()
    pad = Pad(plan.pad.outline * [[1, 1], [1, 1], [0.8, 1], [1, 1]], strip=0.1)
    plan = replace(plan, pad=pad, stakeout=stake_out(plan.ground, pad, plan.search.best.placement))
    text = Page(field_sheet(plan)).text
    assert "If the two diagonals differ" not in text
    assert "Check the diagonals" in text


def test_field_sheet_puts_corners_out_of_square_as_computed_by_hand() -> None:
    """Diagonals of a 5.4 by 3.6 pad that differ by 10 mm: sin e = 0.01 * 12.98 / (4 * 5.4 * 3.6), 6 mm over 3.6 m."""
    text = Page(plain_sheet()).text
    assert "Diagonals that differ by 0.010 m put C and D 0.006 m out of square" in text


# What is typed, unit, expected metres; None where it must be refused.
TYPED = [
    ("1.325", "m", 1.325),
    ("1,325", "m", 1.325),
    (" 0.5 ", "m", 0.5),
    ("1.3.5", "m", None),
    ("1 325", "m", None),
    ("4.35", "ft", 4.35 * FOOT),
    ("4' 3\"", "ft", None),
    ("4' 4 1/8\"", "ft-in", (4 + 4.125 / 12) * FOOT),
    ("4'4 1/8", "ft-in", (4 + 4.125 / 12) * FOOT),
    ("4′ 4⅛", "ft-in", None),
    ("4’ 6”", "ft-in", 4.5 * FOOT),
    ("4'", "ft-in", 4 * FOOT),
    ('51 1/2"', "ft-in", 51.5 / 12 * FOOT),
    ('7/8"', "ft-in", 0.875 / 12 * FOOT),
    ("4' 7/8\"", "ft-in", (4 + 0.875 / 12) * FOOT),
    ("4", "ft-in", None),
    ("4' 13\"", "ft-in", None),
    ("4' 1/0\"", "ft-in", None),
    ("", "ft-in", None),
    ("four", "ft-in", None),
]


@pytest.mark.skipif(shutil.which("node") is None, reason="node stands here for a browser")
def test_script_reads_and_prints_lengths_like_the_rest() -> None:
    """What is typed is read or refused; what is printed is what every other sheet prints."""
    metres = [0.0, 0.0004, -0.0004, 0.0095, 0.3048, 0.3047, 1.0, 1.2345, 3.65759, 101.512, -0.0762, 0.0254 * 11.97]
    script = (files("spadework.write") / "templates" / "field-sheet.js").read_text(encoding="utf-8")
    program = (
        f"{script}\nconst typed = {json.dumps([(text, unit) for text, unit, _ in TYPED])};\n"
        f"const metres = {json.dumps(metres)};\n"
        "console.log(JSON.stringify({read: typed.map(([text, unit]) => parseReading(text, unit)),"
        " printed: ['m', 'ft', 'ft-in'].map((unit) => metres.map((value) => printLength(value, unit)))}));"
    )
    run = subprocess.run(["node", "-e", program], capture_output=True, text=True, check=True)
    found = json.loads(run.stdout)
    for (text, unit, expected), read in zip(TYPED, found["read"], strict=True):
        if expected is None:
            assert isinstance(read, str), (text, unit)
        else:
            assert read == pytest.approx(expected, abs=1e-12), (text, unit)
    for unit, printed in zip(LengthUnit, found["printed"], strict=True):
        assert printed == [format_length(value, unit) for value in metres]
