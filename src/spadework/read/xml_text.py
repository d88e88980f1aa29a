"""XML read safely: no entities, no document types, nothing fetched, and every element with its line."""

from __future__ import annotations

from typing import Any
from xml.etree.ElementTree import Element, ParseError, TreeBuilder

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import DefusedXMLParser

from spadework.errors import Fault, InputError, Source
from spadework.read.text import SourceText

__all__ = ["line_of", "local_name", "parse_xml"]

LINE = "{line}"
DEEPEST = 60
"""Open exchange formats nest about ten elements deep; files made to break parsers, thousands."""

MOST_CHARACTERS = 64_000_000
"""Elements take about eight times their text in memory."""


class _Builder(TreeBuilder):
    """Notes the line of each element, and stops where elements nest too deeply."""

    def __init__(self, file: str) -> None:
        super().__init__()
        self.file = file
        self.parser: Any = None
        self.depth = 0

    def start(self, tag: str, attrs: dict[str, str], /) -> Element:
        """Open an element."""
        self.depth += 1
        line = self.parser.parser.CurrentLineNumber if self.parser is not None else 0
        if self.depth > DEEPEST:
            what = f"elements nest more than {DEEPEST} deep"
            raise InputError(Fault(what, "no survey file does that", "export the file again", Source(self.file, line)))
        return super().start(tag, {**attrs, LINE: str(line)})

    def end(self, tag: str, /) -> Element:
        """Close an element."""
        self.depth -= 1
        return super().end(tag)


def parse_xml(source: SourceText) -> Element:
    """Return the root element of a text.

    Raises
    ------
    InputError
        The text is not well formed, or declares entities or a document type.
    """
    size = sum(map(len, source.lines))
    if size > MOST_CHARACTERS:
        what = f"the XML has {size / 1e6:,.0f} million characters"
        rule = f"an exchange file that is read has {MOST_CHARACTERS / 1e6:.0f} million at most"
        raise InputError(Fault(what, rule, "export only the site", Source(source.file, 1)))
    builder = _Builder(source.file)
    parser: Any = DefusedXMLParser(target=builder, forbid_dtd=True)  # type: ignore[no-untyped-call]  # untyped
    builder.parser = parser
    try:
        parser.feed("\n".join(source.lines))
        root = parser.close()
    except ParseError as error:
        line, _ = error.position
        reason = str(error).partition(":")[0]
        what, remedy = f"the file is not well-formed XML: {reason}", "export it again, or mend the line"
        raise InputError(Fault(what, "every element that opens is closed", remedy, Source(source.file, line))) from None
    except DefusedXmlException:
        what = "the file declares a document type or entities"
        rule = "survey files have none, and such declarations can make a parser fetch or fill memory"
        raise InputError(Fault(what, rule, "take the declaration out", Source(source.file, 1))) from None
    except ValueError as error:  # an encoding that the parser does not know
        raise InputError(Fault(f"the XML cannot be read: {error}", source=Source(source.file, 1))) from None
    if not isinstance(root, Element):
        raise InputError(Fault("the file holds no element", "", "export it again", Source(source.file, 1)))
    return root


def line_of(element: Element) -> int:
    """Return the line where an element opens."""
    return int(element.attrib.get(LINE, "0"))


def local_name(element: Element) -> str:
    """Return the name of an element without its namespace."""
    return str(element.tag).rpartition("}")[2]
