"""The field sheet in a real browser: on a small phone and on a desk, by finger, by keyboard and by screen reader."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from browser import Watched, accessibility, open_browser, watched_page
from sample_plan import sure_plan
from spadework.read.check_list import read_check_list
from spadework.read.text import open_text
from spadework.readings import RodList
from spadework.stakeout import depth_mark
from spadework.units import LengthUnit, format_fine, format_length, format_volume
from spadework.write.field_sheet import field_sheet

PHONE, DESK = (360, 740), (1280, 900)
NO_BREAK = "\u00a0"


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """One browser for all tests of this file."""
    with open_browser() as opened:
        yield opened


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sheet of a metric plan."""
    file = tmp_path_factory.mktemp("sheet") / "field-sheet.html"
    file.write_bytes(field_sheet(sure_plan()[0]))
    return file


@pytest.fixture(params=[PHONE, DESK], ids=["phone", "desk"])
def watched(browser: Any, sheet: Path, request: pytest.FixtureRequest) -> Iterator[Watched]:
    """The sheet in a window; afterwards: no script error, and no request but for the file itself."""
    with watched_page(browser, sheet, *request.param) as found:
        yield found
        assert found.errors == []
        assert {url.split("#")[0] for url in found.requests if not url.startswith("blob:")} == {sheet.as_uri()}


@pytest.fixture
def phone(browser: Any, sheet: Path) -> Iterator[Any]:
    """The sheet on a phone."""
    with watched_page(browser, sheet, *PHONE) as found:
        yield found.page
        assert found.errors == []


def choose(page: Any, name: str, value: str) -> None:
    """Choose a radio button by its label, as a finger does."""
    page.locator(f"label[for={name}-{value}]").click()


def rods(page: Any) -> dict[float, str]:
    """Text of each rod reading by the level that it is for."""
    return {
        float(cell["level"]): cell["text"].replace(NO_BREAK, " ")
        for cell in page.eval_on_selector_all(
            ".rod", "cells => cells.map(c => ({level: c.dataset.level, text: c.textContent}))"
        )
    }


def test_sheet_is_as_wide_as_its_window(watched: Watched) -> None:
    """Nothing sticks out sideways, also with long readings in feet and inches; wide tables scroll by themselves."""
    page = watched.page
    for unit in ("m", "ft-in"):
        choose(page, "unit", unit)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), unit


def test_sheet_shows_notes_beside_readings_on_a_phone(phone: Any) -> None:
    """The table to tick off fits 360 pixels: its last column ends within the window."""
    choose(phone, "unit", "ft-in")
    assert phone.evaluate("document.getElementById('note-0').getBoundingClientRect().right") <= 360


def test_rods_follow_the_reading_on_the_bench_mark(watched: Watched) -> None:
    """HI is 100 + 1.352; every rod is HI less its level, as the rest of the sheets print it."""
    page = watched.page
    page.fill("#reading", "1.352")
    assert page.inner_text("#hi") == "HI 101.352 m"
    for level, words in rods(page).items():
        assert words == format_length(101.352 - level, LengthUnit.METRE), level
    assert any(abs(level - 99.92) < 1e-9 for level in rods(page))


def test_rods_are_not_shown_when_the_reading_cannot_be_read(watched: Watched) -> None:
    """A slip is answered in words and shows no number."""
    page = watched.page
    page.fill("#reading", "1.3.5")
    assert page.inner_text("#hi") == "Write metres, such as 1.325"
    assert set(rods(page).values()) == {""}


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_every_number_changes_with_the_unit_when_it_is_switched(phone: Any, unit: LengthUnit) -> None:
    """Each length, mark and volume on the page is what the other sheets print in that unit."""
    choose(phone, "unit", unit.value)
    read = "cells => cells.map(c => [c.dataset.m, c.dataset.how || '', c.textContent])"
    lengths = phone.eval_on_selector_all(".len", read)
    marks = phone.eval_on_selector_all(".mark", read)
    volumes = phone.eval_on_selector_all(".vol", read)
    assert min(len(lengths), len(marks), len(volumes)) > 10
    assert {how for _, how, _ in lengths} >= {"rough", "fine"}
    sure = phone.inner_text("#sure").replace(NO_BREAK, " ")
    other = {LengthUnit.METRE: r"\d (ft|yd³)", LengthUnit.FOOT: r"\d (m|m³|mm)\b"}.get(unit, r"\d (m|m³|mm|ft)\b")
    assert re.findall(other, sure.replace("Did you mean 100.400 m?", "")) == []
    for metres, how, words in lengths:
        expected = format_length(float(metres), unit, sign="sign" in how, with_unit="bare" not in how)
        if how in {"rough", "fine"}:
            expected = (
                format_length(float(metres), unit, step=1) if how == "rough" else format_fine(float(metres), unit)
            )
        if "short" in how:
            expected = (
                expected.removesuffix(' 0"') if unit is LengthUnit.FOOT_INCH else expected.rstrip("0").rstrip(".")
            )
        assert words.replace(NO_BREAK, " ") == expected, metres
    for metres, _, words in marks:
        assert words.replace(NO_BREAK, " ") == depth_mark(float(metres), unit), metres
    for cubic, how, words in volumes:
        printed = format_volume(float(cubic), unit, decimals=int(how.split()[0]))
        expected = printed.split(" ")[0] if "bare" in how else printed
        assert words.replace(NO_BREAK, " ") == expected


def test_typed_reading_is_kept_as_typed_when_units_are_switched_to_and_fro(phone: Any) -> None:
    """1.352 m is 4.44 ft on the way, and 1.352 again at the end."""
    phone.fill("#reading", "1.352")
    choose(phone, "unit", "ft")
    assert phone.input_value("#reading") == "4.44"
    assert phone.inner_text("#hi") == f"HI {format_length(101.352, LengthUnit.FOOT)}"
    choose(phone, "unit", "m")
    assert phone.input_value("#reading") == "1.352"


def test_string_says_how_far_down_when_there_is_no_instrument(watched: Watched) -> None:
    """A string 0.5 m above the finish at 100.02: 0.6 down to the formation at 99.92; counted from BM1, 0.58."""
    page = watched.page
    choose(page, "mode", "string")
    choose(page, "over", "finish")
    page.fill("#height", "0.5")
    assert page.inner_text("#hi") == "String at 100.520 m"
    formation = next(level for level in rods(page) if abs(level - 99.92) < 1e-9)
    assert rods(page)[formation] == "0.600 m"
    assert "Down from the string" in page.inner_text("#rods")
    choose(page, "over", "bench")
    assert rods(page)[formation] == "0.580 m"
    assert not page.is_visible("#reading")


def test_ticks_readings_and_notes_survive_a_reload(watched: Watched) -> None:
    """What was typed is there again after a reload, by stage, and gone when it is cleared."""
    page = watched.page
    page.fill("#reading", "1.352")
    page.select_option("#stage", "formation")
    page.check("#set-0")
    page.fill("#found-0", "1.440")
    page.fill("#note-0", "soft, here")
    page.reload()
    assert page.input_value("#reading") == "1.352"
    assert page.input_value("#stage") == "formation"
    assert page.is_checked("#set-0")
    assert (page.input_value("#found-0"), page.input_value("#note-0")) == ("1.440", "soft, here")
    assert page.inner_text("#off-0") == "0.008 m low"  # 101.352 - 1.440 = 99.912 against 99.920
    page.select_option("#stage", "finish")
    assert page.input_value("#found-0") == ""
    assert page.is_checked("#set-0")
    page.on("dialog", lambda dialog: dialog.accept())
    page.click("#clear")
    assert not page.is_checked("#set-0")
    page.reload()
    assert page.input_value("#reading") == ""


def test_readings_go_out_as_text_that_is_read_back(watched: Watched, tmp_path: Path) -> None:
    """Comments say site, units, stage and bench mark; then stake, rod and note by RFC 4180; a file of the same."""
    page = watched.page
    page.fill("#reading", "1.352")
    page.select_option("#stage", "formation")
    names = page.eval_on_selector_all("#log tbody th", "cells => cells.map(c => c.firstChild.textContent)")
    page.fill("#found-0", "1.440")
    page.fill("#note-0", 'soft, "boggy"')
    page.fill("#found-1", "1.4305")
    text = page.input_value("#export")
    lines = text.splitlines()
    assert lines[:5] == [
        "# site: Plum terrace",
        "# plan of: 2026-04-18",
        "# units: m",
        "# stage: formation",
        "# bench: BM1 reading 1.3520",
    ]
    rows = list(csv.reader(io.StringIO("\n".join(lines[5:])), strict=True))
    assert rows == [["stake", "rod", "note"], [names[0], "1.4400", 'soft, "boggy"'], [names[1], "1.4305", ""]]
    with page.expect_download() as waiting:
        page.click("#save")
    assert waiting.value.suggested_filename == "readings-formation.csv"
    waiting.value.save_as(tmp_path / "out.csv")
    assert (tmp_path / "out.csv").read_text(encoding="utf-8") == text
    read = read_check_list(open_text(tmp_path / "out.csv"), units=LengthUnit.FOOT)
    assert read.bench is not None
    assert read.bench[:2] == ("BM1", pytest.approx(1.352))
    assert read.said["stage"].text == "formation"
    assert isinstance(read.recognised.reading, RodList)
    assert read.recognised.reading.point == (names[0], names[1])
    assert read.recognised.reading.rod.tolist() == pytest.approx([1.44, 1.4305])


def test_readings_in_feet_and_inches_go_out_in_decimal_feet(phone: Any, tmp_path: Path) -> None:
    """Four feet eight and a half inches are 4.7083 ft; below a string they are drops, and its level is stated."""
    choose(phone, "unit", "ft-in")
    choose(phone, "mode", "string")
    choose(phone, "over", "finish")
    phone.fill("#height", "1' 6\"")
    phone.fill("#found-0", "4' 8 1/2\"")
    lines = phone.input_value("#export").splitlines()
    assert "# units: ft" in lines
    assert f"# line: {(100.02 + 0.4572) / 0.3048:.4f} ft" in lines
    assert lines[-2] == "stake,drop,note"
    assert lines[-1].split(",")[1:] == ["4.7083", ""]
    (tmp_path / "out.csv").write_text("\n".join(lines), encoding="utf-8")
    read = read_check_list(open_text(tmp_path / "out.csv"), units=LengthUnit.METRE)
    assert read.drops
    assert isinstance(read.recognised.reading, RodList)
    assert read.recognised.reading.rod.tolist() == pytest.approx([56.5 * 0.0254], abs=2e-5)


def test_sheet_works_with_the_keyboard_alone(watched: Watched) -> None:
    """Tab reaches the units, arrows choose one, then the reading is typed and a stake ticked with the space bar."""
    page = watched.page
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "unit-m"
    page.keyboard.press("ArrowRight")
    assert page.is_checked("#unit-ft")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "reading"
    page.keyboard.type("1.352")
    assert page.inner_text("#hi") == "HI 101.352 m"
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "set-0":
            break
    page.keyboard.press("Space")
    assert page.is_checked("#set-0")


def test_sheet_has_no_fault_that_axe_finds(watched: Watched) -> None:
    """Contrast, labels, names, roles, order of headings and the rest of axe-core's rules, in both ways of measuring."""
    axe, page = accessibility(), watched.page
    for mode in ("rod", "string"):
        choose(page, "mode", mode)
        page.fill("#found-0", "1.3.3")
        found = axe.run(page).response
        assert [rule["id"] for rule in found["violations"]] == []
        assert len(found["passes"]) > 20
        assert "color-contrast" in {rule["id"] for rule in found["passes"]}


def test_everything_to_touch_is_big_enough_for_a_thumb(phone: Any) -> None:
    """At least 40 pixels high, and 40 wide with its label (WCAG 2.2, 2.5.8 asks for 24; 2.5.5 for 44)."""
    small = phone.eval_on_selector_all(
        "input, select, button, textarea",
        """boxes => boxes.filter(b => b.offsetParent !== null).map(b => {
            const box = (b.type === 'radio' || b.type === 'checkbox' ? b.closest('label') : b).getBoundingClientRect();
            return [b.id, box.width, box.height];
        }).filter(([, width, height]) => width < 40 || height < 40)""",
    )
    assert small == []


def test_sheet_names_itself_to_a_screen_reader(phone: Any) -> None:
    """Each box has a name of its own, and what changes is announced."""
    tree = json.dumps(phone.locator("body").aria_snapshot())
    for said in (
        'radio \\"metres\\" [checked]',
        'textbox \\"Today\'s rod reading on BM1 [m]\\"',
        'checkbox \\"Stake A is set\\"',
        'textbox \\"Found at stake A\\"',
        'textbox \\"Note on stake A/AB\\"',
        'heading \\"Tick off and write down\\" [level=2]',
        'combobox \\"Stage of these readings\\"',
    ):
        assert said in tree, said
    assert phone.get_attribute("#hi", "role") == "status"


def test_sheet_still_works_when_the_browser_keeps_nothing(browser: Any, sheet: Path) -> None:
    """A browser without a store says so, and loses no reading before it is closed."""
    context = browser.new_context(viewport={"width": 360, "height": 740})
    context.add_init_script("Object.defineProperty(window, 'localStorage', {get() { throw new Error('no store'); }});")
    page = context.new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.goto(sheet.as_uri())
    page.fill("#reading", "1.352")
    page.fill("#found-0", "1.4")
    assert "keeps nothing" in page.inner_text("#kept")
    assert "1.4000" in page.input_value("#export")
    assert errors == []
    context.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_sheet_prints_with_room_to_write(browser: Any, sheet: Path, paper: str) -> None:
    """The printed page keeps every stake and loses the buttons; no table is cut off at the side."""
    with watched_page(browser, sheet, *DESK) as found:
        page = found.page
        page.emulate_media(media="print")
        assert not page.is_visible("#save")
        width = {"A4": 703, "Letter": 725}[paper]  # paper less two margins of 12 mm, at 96 pixels to the inch
        page.set_viewport_size({"width": width, "height": 1000})
        wide = page.eval_on_selector_all("table", "tables => tables.filter(t => t.scrollWidth > innerWidth + 1).length")
        assert wide == 0
        assert page.pdf(format=paper).startswith(b"%PDF")
