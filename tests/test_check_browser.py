"""From the field sheet in a real browser to the verdict of the check; and the blank form as it prints."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from browser import accessibility, open_browser, watched_page
from command_line import run
from sample_plan import sample_plan
from spadework.units import FOOT, LengthUnit
from spadework.write.field_sheet import field_sheet
from spadework.write.plan_json import plan_bytes
from spadework.write.reading_form import FormFacts, reading_form

FINISH = 100.02  # of the sample plan, its bench mark at 100.000 m [m]
OFF = {"A": 0.0, "B": 0.025, "C": -0.004, "D": -0.015}
SITE = """\
[site]
name  = "Plum terrace"
units = "m"
datum = { point = "BM1", level = 100.0 }

[[readings]]
file = "shots.csv"
"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """One browser for all tests of this file."""
    with open_browser() as opened:
        yield opened


@pytest.fixture
def yard(tmp_path: Path) -> Path:
    """A folder with a site, its plan, and the field sheet."""
    plan = sample_plan()
    (tmp_path / "plan").mkdir()
    (tmp_path / "plan" / "plan.json").write_bytes(plan_bytes(plan))
    (tmp_path / "plan" / "field-sheet.html").write_bytes(field_sheet(plan))
    (tmp_path / "site.toml").write_text(SITE, encoding="utf-8")
    (tmp_path / "shots.csv").write_text("point,east,north,rod\nBM1,,,1\n1,0,0,1\n", encoding="utf-8")
    return tmp_path


def type_readings(page: Any, line: float, unit: LengthUnit) -> None:
    """Type what rod or tape reads at each corner, below a line of sight or a string."""
    names = page.eval_on_selector_all("#log tbody th", "cells => cells.map(c => c.firstChild.textContent.trim())")
    for number, name in enumerate(names):
        if name in OFF:
            reading = line - FINISH - OFF[name]
            page.fill(f"#found-{number}", f"{reading:.4f}" if unit is LengthUnit.METRE else f"{reading / FOOT:.4f}")


@pytest.mark.parametrize(
    ("mode", "unit"), [("rod", LengthUnit.METRE), ("rod", LengthUnit.FOOT), ("string", LengthUnit.METRE)]
)
def test_readings_typed_into_the_sheet_are_checked(browser: Any, yard: Path, mode: str, unit: LengthUnit) -> None:
    """What is typed on the phone comes back as it was: each corner off by what it was off by, at the stage chosen."""
    with watched_page(browser, yard / "plan" / "field-sheet.html", 360, 740) as watched:
        page = watched.page
        page.locator(f"label[for=unit-{unit.value}]").click()
        page.select_option("#stage", "finish")
        if mode == "string":
            page.locator("label[for=mode-string]").click()
            page.locator("label[for=over-finish]").click()
            page.fill("#height", "0.500")
            type_readings(page, FINISH + 0.5, unit)
        else:
            reading = 1.352 if unit is LengthUnit.METRE else 1.352 / FOOT
            page.fill("#reading", f"{reading:.4f}")
            type_readings(page, 101.352, unit)
        with page.expect_download() as waiting:
            page.click("#save")
        waiting.value.save_as(yard / waiting.value.suggested_filename)
        assert watched.errors == []
    done = run("check", ".", waiting.value.suggested_filename, "--json", folder=yard)
    assert done.status == 0, done.err
    made = json.loads(done.out)
    assert made["stage"] == "finish"
    off = {point["name"]: point["deviation"] for point in made["points"]}
    assert off == pytest.approx(OFF, abs=0.0001)
    assert [point["name"] for point in made["points"] if point["state"] == "high"] == ["B"]
    assert [point["name"] for point in made["points"] if point["state"] == "low"] == ["D"]


@pytest.mark.parametrize(
    ("paper", "unit", "size"),
    [("A4", LengthUnit.METRE, (595, 842)), ("Letter", LengthUnit.FOOT_INCH, (612, 792))],
)
@pytest.mark.parametrize("instrument", ["rotary-laser", "string-line"])
def test_form_prints_on_its_paper(
    browser: Any, tmp_path: Path, instrument: str, paper: str, unit: LengthUnit, size: tuple[int, int]
) -> None:
    """The form is two or three pages of the paper asked for (A4 is 595 by 842 points, Letter 612 by 792)."""
    file = tmp_path / "reading-form.html"
    file.write_bytes(reading_form(FormFacts("Pear court", instrument, unit, 3.6, 2.4, paper)))
    with watched_page(browser, file, 360, 740) as watched:
        printed = watched.page.pdf(prefer_css_page_size=True)
        assert watched.page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert watched.errors == []
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", printed)
    assert 2 <= len(boxes) <= 3
    for across, up in boxes:
        assert (float(across), float(up)) == pytest.approx(size, abs=1.5)


@pytest.mark.parametrize("instrument", ["rotary-laser", "string-line"])
def test_form_can_be_read_by_everybody(browser: Any, tmp_path: Path, instrument: str) -> None:
    """Axe-core finds nothing wrong: contrast, headings, table heads, language."""
    axe = accessibility()
    file = tmp_path / "reading-form.html"
    file.write_bytes(reading_form(FormFacts("Pear court", instrument, LengthUnit.METRE, 3.6, 2.4)))
    context = browser.new_context(bypass_csp=True)
    page = context.new_page()
    page.goto(file.as_uri())
    found = axe.run(page)
    assert found.response["violations"] == []
    context.close()
