"""The printed field sheet: its text is that of the tables, its drawings are to scale, and its pages are whole."""

from __future__ import annotations

import csv
import io
import re
import shutil
import subprocess
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader

from browser import missing
from sample_plan import HOSTILE, sample_plan
from spadework.plan import Plan
from spadework.stakeout import stake_out
from spadework.units import LengthUnit
from spadework.write.field_sheet_pdf import field_sheet_pdf
from spadework.write.scaled_map import map_scale, scale_words, scaled_map
from spadework.write.tables import csv_bytes, stakes_table

SIZES = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}  # 210 by 297 mm, 8.5 by 11 in [points]
SHEETS = [(LengthUnit.METRE, "A4"), (LengthUnit.FOOT, "Letter"), (LengthUnit.FOOT_INCH, "Letter")]


@cache
def sheet_of(unit: LengthUnit = LengthUnit.METRE, paper: str = "A4") -> bytes:
    """The sheet of the sample plan, made once."""
    return field_sheet_pdf(sample_plan(unit, paper=paper))


def tool(name: str) -> str:
    """A program of poppler."""
    if shutil.which(name) is None:
        missing(name)
    return name


def text_of(sheet: bytes, tmp_path: Path) -> str:
    """Text as an independent reader lays it out."""
    (tmp_path / "sheet.pdf").write_bytes(sheet)
    command = [tool("pdftotext"), "-layout", "-enc", "UTF-8", str(tmp_path / "sheet.pdf"), "-"]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


@pytest.mark.parametrize(("unit", "paper"), SHEETS)
def test_pdf_says_of_each_stake_what_the_table_says(unit: LengthUnit, paper: str, tmp_path: Path) -> None:
    """Every stake of stakes.csv has a line with its mark, depth, ground level and ties; third ties are there too."""
    plan = sample_plan(unit, paper=paper)
    text = text_of(sheet_of(unit, paper), tmp_path)
    rows = list(csv.DictReader(io.StringIO(csv_bytes(stakes_table(plan)).decode("utf-8"), newline="")))
    assert len(rows) == len(plan.stakeout.all_stakes) > 10
    label = unit.value
    for row in rows:
        cells = [row["mark"], *(row[f"{name} [{label}]"] for name in ("dig in all", "ground"))]
        cells += [row[f"tie from {name} [{label}]"] for name in ("H1", "H2")]
        wanted = rf"(?m)^\s*{re.escape(row['stake'])}\s.*?" + r"\s+".join(re.escape(cell) for cell in cells)
        assert re.search(wanted, text), row["stake"]
        if row["third tie from"]:
            assert row[f"third tie [{label}]"] in text


@pytest.mark.parametrize(("unit", "paper"), SHEETS)
def test_pdf_pages_have_the_size_of_the_paper(unit: LengthUnit, paper: str) -> None:
    """A4 or Letter, on every page."""
    pages = PdfReader(io.BytesIO(sheet_of(unit, paper))).pages
    assert len(pages) >= 4
    for page in pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(SIZES[paper], abs=0.02)


def test_pdf_holds_vectors_and_text_and_no_picture() -> None:
    """No page has an image; what stands in the drawings is text as well."""
    pages = PdfReader(io.BytesIO(sheet_of())).pages
    assert [len(page.images) for page in pages] == [0] * len(pages)
    text = "\n".join(page.extract_text() for page in pages)
    for said in ("CUT", "H1", "Along the middle", "Edge DA", "site north at 2 o'clock", "drain"):
        assert said in text, said


def test_pdf_says_what_a_sheet_must_say(tmp_path: Path) -> None:
    """Origin, levels, cautions with source, squaring, soil, what to buy, how the numbers were got."""
    plan = sample_plan(hi=101.512)
    text = re.sub(r"\s+", " ", text_of(field_sheet_pdf(plan), tmp_path))
    for said in (
        *("Plum terrace", "2026-04-18", plan.datum, "buried services", "common practice, no source", "rotary laser"),
        *(
            "Nothing checks the level of shot 7.",
            "5.400 m by 3.600 m",
            "99.920",
            "100.020",
            "101.512",
            "1.592",
            "1.492",
        ),
        *("AC 6.490 m", "C and D are off by", "To buy", "In the bank", "1:100"),
    ):
        assert said in text, said


def test_pdf_prints_overrides_on_every_page() -> None:
    """What was let pass stands at the foot of each page, and in a frame on the first."""
    plan = sample_plan(overrides=("Misclosure of 31 mm let pass.",))
    pages = PdfReader(io.BytesIO(field_sheet_pdf(plan))).pages
    assert all("Misclosure of 31 mm let pass." in page.extract_text() for page in pages)
    assert pages[0].extract_text().count("Misclosure of 31 mm let pass.") == 2


def test_pdf_takes_hostile_words_as_words(tmp_path: Path) -> None:
    """Tags, characters that no page has, and scripts without glyphs break nothing."""
    plan = sample_plan()
    caution = replace(plan.cautions[0], text=HOSTILE + "\x00", source="<b>")
    plan = replace(plan, name=HOSTILE, cautions=(caution,), notices=(HOSTILE + " 庭",), overrides=("<font>",))
    text = text_of(field_sheet_pdf(plan), tmp_path)
    assert text.count("<script>") >= 3
    assert "<font>" in text


def test_pdf_repeats_to_the_byte() -> None:
    """The same plan gives the same file."""
    assert field_sheet_pdf(sample_plan()) == sheet_of()


def test_pdf_is_printed_for_a_plan_without_references_bench_or_frame(tmp_path: Path) -> None:
    """Positions instead of ties, and no shopping list where nothing is built."""
    plan = sample_plan(references=(), bench=None, build=None)
    plan = replace(plan, stakeout=stake_out(plan.ground, plan.pad, plan.search.best.placement))
    text = text_of(field_sheet_pdf(plan), tmp_path)
    assert "names no two references" in re.sub(r"\s+", " ", text)
    assert f"east {plan.stakeout.stakes[0].east:.3f} m" in text
    assert "no bench mark" in re.sub(r"\s+", " ", text)


@pytest.mark.parametrize(("unit", "paper"), [SHEETS[0], SHEETS[2]])
def test_pdf_pages_are_drawn_within_their_margins(unit: LengthUnit, paper: str, tmp_path: Path) -> None:
    """Rendered by an independent program: ink on every page, none within 8 mm of an edge."""
    (tmp_path / "sheet.pdf").write_bytes(sheet_of(unit, paper))
    command = [tool("pdftoppm"), "-r", "50", "-gray", str(tmp_path / "sheet.pdf"), str(tmp_path / "page")]
    subprocess.run(command, check=True)
    pages = sorted(tmp_path.glob("page*.pgm"))
    assert len(pages) >= 4
    for page in pages:
        head, pixels = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", page.read_bytes()), page.read_bytes()
        assert head is not None
        wide, high = int(head[1]), int(head[2])
        dark = np.frombuffer(pixels[head.end() :], dtype=np.uint8).reshape(high, wide) < 128
        edge = int(8 / 25.4 * 50)
        assert dark[edge:-edge, edge:-edge].mean() > 0.005
        assert not dark[:edge].any()
        assert not dark[-edge:].any()
        assert not dark[:, :edge].any()
        assert not dark[:, -edge:].any()


@pytest.mark.parametrize(("unit", "scales"), [(LengthUnit.METRE, {50, 100, 200}), (LengthUnit.FOOT, {48, 60, 96, 120})])
def test_scaled_map_is_to_its_scale(unit: LengthUnit, scales: set[int]) -> None:
    """AB is 5.4 m in the yard; measured on the figure in inches and multiplied by the scale it is that again."""
    plan = sample_plan(unit)
    scale, references = map_scale(plan, 7.2, 9.5)
    assert scale in scales
    assert references
    figure = scaled_map(plan, 7.2, 9.5)
    a, b = (figure.axes[0].transData.transform((s.east, s.north)) for s in plan.stakeout.stakes[:2])
    assert float(np.hypot(*(b - a))) / figure.dpi * 0.0254 * scale == pytest.approx(5.4, rel=1e-9)
    for stake in plan.stakeout.all_stakes:
        across, up = (
            figure.axes[0].transAxes.inverted().transform(figure.axes[0].transData.transform((stake.east, stake.north)))
        )
        assert 0 < across < 1
        assert 0 < up < 1


def test_scaled_map_leaves_far_references_out_rather_than_shrink() -> None:
    """Two references 300 m off would make the pad a dot: it keeps its own scale."""
    plan: Plan = sample_plan()
    far = (("H1", 300.0, 300.0), ("H2", 310.0, 290.0))
    plan = replace(plan, stakeout=replace(plan.stakeout, references=far))
    assert map_scale(plan, 7.2, 9.5) == (50, False)


@pytest.mark.parametrize(
    ("unit", "scale", "said"),
    [
        (LengthUnit.METRE, 50, "1:50"),
        (LengthUnit.FOOT, 12, "1 inch = 1 foot (1:12)"),
        (LengthUnit.FOOT_INCH, 96, "1 inch = 8 feet (1:96)"),
    ],
)
def test_scale_is_said_in_the_users_words(unit: LengthUnit, scale: int, said: str) -> None:
    """Feet to the inch for one who measures in feet."""
    assert scale_words(sample_plan(unit), scale) == said
