"""HTML out of words: everything that is not an element is escaped."""

from __future__ import annotations

from html.parser import HTMLParser

from spadework.write.markup import Markup, element, items, joined, table


class Words(HTMLParser):
    """Collects tags and words, as a browser would find them."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:  # noqa: ARG002 - the parser gives it
        """Note a tag."""
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        """Note words."""
        self.words.append(data)


def test_element_escapes_words_and_attributes() -> None:
    """Angle brackets, ampersands and quotes are characters, in words and in attributes."""
    made = element("p", "a < b & c", title='say "so"')
    assert made == '<p title="say &quot;so&quot;">a &lt; b &amp; c</p>'


def test_element_keeps_an_element_inside_as_it_is() -> None:
    """What is an element already is not escaped again."""
    assert element("p", element("b", "x")) == "<p><b>x</b></p>"


def test_element_has_no_end_tag_when_it_is_empty_by_nature() -> None:
    """An input has no end."""
    assert element("input", id="reading") == '<input id="reading">'


def test_element_turns_names_into_attributes() -> None:
    """A trailing underscore is dropped and others become hyphens."""
    assert element("td", "1", class_="rod", data_level="2.0") == '<td class="rod" data-level="2.0">1</td>'


def test_table_and_list_hold_hostile_words_as_words() -> None:
    """A script in a cell or a list is read as words."""
    hostile = "<script>alert(1)</script>"
    found = Words()
    found.feed(joined([table([hostile, "n"], [(hostile, "1")], caption=hostile), items("ul", [hostile]), hostile]))
    assert "script" not in found.tags
    assert "".join(found.words).count(hostile) == 5


def test_table_cells_stay_cells_when_made_before() -> None:
    """A cell with attributes of its own is not put into another; a heading stands first."""
    made = table(["a", "b"], [("x", element("td", "1", class_="rod"))])
    assert '<tr><th scope="row">x</th><td class="rod">1</td></tr>' in made
    assert isinstance(made, Markup)
