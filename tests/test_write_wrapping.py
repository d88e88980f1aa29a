"""Lines broken by their measured width."""

from __future__ import annotations

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from spadework.write.wrapping import wrapped

WORDS = "Before any digging, have buried services marked and dig by hand near every mark."


def figure() -> Figure:
    """An empty figure with a renderer."""
    made = Figure(figsize=(4, 3), dpi=100)
    FigureCanvasAgg(made)
    return made


def widths(lines: list[str], size: float) -> list[float]:
    """Width of each line as it is drawn. [points]"""
    made = figure()
    texts = [made.text(0, 0, line, fontsize=size, parse_math=False) for line in lines]
    return [text.get_window_extent().width * 72 / made.dpi for text in texts]


def test_wrapped_keeps_every_word_and_every_line_within_the_room() -> None:
    """Joined again the lines are the text, and none is wider than asked."""
    lines = wrapped(figure(), WORDS, 150, 8)
    assert " ".join(lines) == WORDS
    assert len(lines) > 1
    assert max(widths(lines, 8)) <= 151


def test_wrapped_breaks_a_word_when_it_is_wider_than_a_line() -> None:
    """A long word without spaces is broken, and no letter is lost."""
    lines = wrapped(figure(), "x" * 200, 100, 8)
    assert "".join(lines) == "x" * 200
    assert max(widths(lines, 8)) <= 101


def test_wrapped_ends_in_an_ellipsis_when_lines_run_out() -> None:
    """With two lines the second says that there is more."""
    lines = wrapped(figure(), WORDS, 100, 8, most=2)
    assert len(lines) == 2
    assert lines[1].endswith("…")
    assert max(widths(lines, 8)) <= 101


def test_wrapped_measures_dollar_signs_as_characters() -> None:
    """Text is never taken for a formula."""
    assert wrapped(figure(), "$x$ and $y", 400, 8) == ["$x$ and $y"]
