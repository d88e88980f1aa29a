"""The files of a check: complete, the same to the byte, labels apart, numbers as on the screen."""

from __future__ import annotations

import csv
import io
import itertools
import json
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from matplotlib.text import Text

from field_checks import check_of, grid_on, wanted_pad
from spadework.fieldcheck import FieldCheck
from spadework.units import LengthUnit
from spadework.write.check_drawing import check_page, deviation_words
from spadework.write.check_json import check_bytes
from spadework.write.check_results import check_files
from spadework.write.labels import extent, overlap


def made(unit: LengthUnit = LengthUnit.METRE, along: int = 5, across: int = 4, bearing: float = 31.0) -> FieldCheck:
    """A check of a rough formation."""
    wanted = wanted_pad(units=unit, bearing=bearing)
    points = grid_on(wanted, along, across)
    levels = 100.0 + np.random.default_rng(8).normal(0, 0.018, len(points))
    return check_of(wanted, points, levels)


def test_files_are_the_same_to_the_byte() -> None:
    """The same check gives the same files."""
    assert check_files([made()]) == check_files([made()])


@pytest.mark.parametrize("unit", LengthUnit)
def test_table_and_document_agree(unit: LengthUnit) -> None:
    """The table holds the deviations of the document, rounded in the user's unit."""
    files = check_files([made(unit)])
    rows = list(csv.DictReader(io.StringIO(files["check.csv"].decode("utf-8"), newline="")))
    document = json.loads(files["check.json"])
    assert [row["point"] for row in rows] == [point["name"] for point in document["points"]]
    assert [row["state"] for row in rows] == [point["state"] for point in document["points"]]
    assert document["units"]["printed_length"] == unit.value
    scale = 1.0 if unit is LengthUnit.METRE else 0.3048
    for point, checked in zip(document["points"], made(unit).points, strict=True):
        assert point["deviation"] * scale == pytest.approx(checked.deviation, abs=1e-9)
        assert point["level"] - point["wanted"] == pytest.approx(point["deviation"], abs=1e-9)


def labels_of(checks: Sequence[FieldCheck]) -> list[Text]:
    """The labels of the map."""
    axes = check_page(checks).axes[0]
    return [text for text in axes.texts if text.get_text() not in ("", "N")]


@pytest.mark.parametrize(("along", "across", "bearing"), [(2, 2, 0.0), (5, 4, 31.0), (8, 6, 77.0)])
def test_labels_stand_apart(along: int, across: int, bearing: float) -> None:
    """No two labels of the map lie on top of each other, and each point out of tolerance has one."""
    check = made(along=along, across=across, bearing=bearing)
    figure = check_page([check])
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    texts = [text for text in figure.axes[0].texts if text.get_text() not in ("", "N")]
    boxes = [extent(text, renderer) for text in texts]
    assert not [pair for pair in itertools.combinations(boxes, 2) if overlap(*pair)]
    words = {text.get_text().split("  ")[0] for text in texts}
    assert {point.name for point in check.off} <= words


def test_labels_say_the_deviation_with_its_sign() -> None:
    """High is +, low is -, with a true minus sign."""
    wanted = wanted_pad()
    check = check_of(wanted, grid_on(wanted, 2, 2), [100.012, 99.966, 100.0, 100.05], names=("A", "B", "D", "C"))
    assert {text.get_text() for text in labels_of([check])} == {"A  +12", "B  −34", "D  0", "C  +50"}


@pytest.mark.parametrize(
    ("deviation", "unit", "words"),
    [
        (0.0124, LengthUnit.METRE, "+12"),
        (-0.0126, LengthUnit.METRE, "−13"),
        (-0.0004, LengthUnit.METRE, "0"),
        (0.0122, LengthUnit.FOOT, "+0.04"),
        (-0.0127, LengthUnit.FOOT_INCH, '−1/2"'),
    ],
)
def test_deviation_in_each_unit(deviation: float, unit: LengthUnit, words: str) -> None:
    """Whole millimetres, hundredths of a foot (12.2 mm = 0.040 ft), eighths of an inch (12.7 mm = 1/2 in)."""
    assert deviation_words(deviation, unit) == words


def test_drawing_is_well_formed_and_its_text_is_text() -> None:
    """The SVG parses and holds the verdict and the names as text."""
    root = ET.fromstring(check_files([made()])["check.svg"])  # noqa: S314 - made here
    said = " ".join(element.text or "" for element in root.iter("{http://www.w3.org/2000/svg}text"))
    assert "Not in tolerance" in said
    assert "high by more than 0.020 m: dig" in said


def test_overrides_are_on_the_page_and_in_the_document() -> None:
    """A rule that was set aside is printed on every sheet."""
    rule = "Levels close +0.040 m: taken all the same."
    files = check_files([made()], (), (rule,))
    assert rule in files["check.svg"].decode("utf-8").replace("\n", " ")
    assert json.loads(files["check.json"])["overrides"] == [rule]


def test_progress_is_drawn_when_there_are_several() -> None:
    """Two checks give a second picture with one mark each."""
    assert len(check_page([made()]).axes) == 2  # the map and its scale bar
    figure = check_page([made(), made()])
    assert len(figure.axes) == 3
    assert [label.get_text() for label in figure.axes[2].get_xticklabels()] == ["1", "2"]


def test_page_is_drawn_when_two_points_were_taken() -> None:
    """Too few points for a surface are still drawn."""
    wanted = wanted_pad()
    files = check_files([check_of(wanted, grid_on(wanted)[:2], [100.0, 100.1])])
    assert files["check.png"].startswith(b"\x89PNG")
    assert json.loads(files["check.json"])["plane"] is None


SCHEMA = json.loads((Path(__file__).parents[1] / "docs" / "check.schema.json").read_text(encoding="utf-8"))


def test_schema_of_the_document_is_one_itself() -> None:
    """The schema keeps the rules of JSON Schema 2020-12."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("unit", list(LengthUnit))
@pytest.mark.parametrize(("along", "across"), [(5, 4), (2, 1), (1, 1)])
def test_document_is_valid_by_the_schema_in_the_docs(unit: LengthUnit, along: int, across: int) -> None:
    """What is written can be checked by anybody with the schema, also where there is too little for a plane."""
    first, last = made(unit), made(unit, along, across)
    document = json.loads(check_bytes([first, last], ["a notice"], ["a rule set aside"]))
    jsonschema.Draft202012Validator(SCHEMA).validate(document)


def test_schema_refuses_a_document_that_lacks_a_key_or_has_one_more() -> None:
    """Every key at the top must be there, and no other may."""
    document = json.loads(check_bytes([made()]))
    validator = jsonschema.Draft202012Validator(SCHEMA)
    assert validator.is_valid(document)
    for key in document:
        assert not validator.is_valid({name: value for name, value in document.items() if name != key}), key
    assert not validator.is_valid(document | {"more": 1})
