"""The tables of the references page are those of the factors."""

from __future__ import annotations

from make_references import PAGE, with_tables


def test_tables_of_the_page_are_up_to_date() -> None:
    """The committed tables are those made now; ``python tests/make_references.py`` writes them."""
    text = PAGE.read_text(encoding="utf-8")
    assert text == with_tables(text)
