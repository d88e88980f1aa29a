"""The line of a value in JSON text."""

from __future__ import annotations

import json

import pytest

from spadework.read.json_lines import line_of

TEXT = """
{
  "type": "FeatureCollection",
  "not \\"this\\"": [1, {"features": 2}],
  "features": [
    {"a": 1},
    {
      "geometry": {"coordinates": [[
        [1, 2],
        [3, "four"]
      ]]}
    }
  ]
}
"""


@pytest.mark.parametrize(
    ("path", "line"),
    [
        ((), 2),
        (("type",), 3),
        (("features",), 5),
        (("features", 0), 6),
        (("features", 1, "geometry"), 8),
        (("features", 1, "geometry", "coordinates", 0, 1), 10),
        (("features", 1, "geometry", "coordinates", 0, 1, 1), 10),
        (("features", 9), 5),
        (("features", 0, "b"), 6),
        (("type", 3), 3),
    ],
)
def test_line_of_when_the_value_lies_deep(path: tuple[str | int, ...], line: int) -> None:
    """The line is that of the value, counted by hand; of the last value reached where the path leads nowhere."""
    json.loads(TEXT)
    assert line_of(TEXT, path) == line


def test_line_of_when_the_text_is_compact() -> None:
    """Everything stands on the first line of a text of one line."""
    assert line_of('[[],{},{"a":[]}]', (2, "a", 0)) == 1
