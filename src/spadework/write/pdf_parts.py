"""Headings, paragraphs, lists and tables of the printed sheet, out of plain words that are always escaped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import ListFlowable, ListItem, LongTable, Paragraph, Table, TableStyle

from spadework.write.pdf_page import BOLD, FONT
from spadework.write.xml_tree import xml_words

__all__ = ["framed", "grid", "heading", "numbered", "pairs", "title", "words"]

BODY = ParagraphStyle("body", fontName=FONT, fontSize=8.5, leading=11.2, spaceAfter=3)
SMALL = ParagraphStyle("small", parent=BODY, fontSize=7, leading=9)
HEAD = ParagraphStyle(
    "head", parent=BODY, fontName=BOLD, fontSize=11.5, leading=14, spaceBefore=7, spaceAfter=3, keepWithNext=1
)
TITLE = ParagraphStyle("title", parent=HEAD, fontSize=17, leading=21, spaceBefore=0, spaceAfter=4)
STRONG = ParagraphStyle("strong", parent=BODY, fontName=BOLD, fontSize=9.5, leading=12.5)
CELL = ParagraphStyle("cell", parent=BODY, fontSize=7.8, leading=9.6, spaceAfter=0)
CELL_HEAD = ParagraphStyle("cell head", parent=CELL, fontName=BOLD, fontSize=7.2, leading=8.8)
CELL_BOLD = ParagraphStyle("cell bold", parent=CELL, fontName=BOLD)
LINE = colors.Color(0.45, 0.45, 0.45)


def title(text: str) -> Any:
    """Return the name of the sheet."""
    return Paragraph(_safe(text), TITLE)


def heading(text: str) -> Any:
    """Return a heading that stays with what follows it."""
    return Paragraph(_safe(text), HEAD)


def words(text: str, *, small: bool = False) -> Any:
    """Return a paragraph."""
    return Paragraph(_safe(text), SMALL if small else BODY)


def framed(texts: Sequence[str], wide: float) -> Any:
    """Return paragraphs in a heavy frame: rules that were set aside."""
    made = Table([[[Paragraph(_safe(text), STRONG) for text in texts]]], colWidths=[wide])
    made.setStyle(TableStyle([("BOX", (0, 0), (-1, -1), 2.5, colors.black)]))
    return made


def numbered(texts: Iterable[str], *, bullets: bool = False) -> Any:
    """Return a numbered list, or one with bullets."""
    kind = {"bulletType": "bullet", "start": "•"} if bullets else {"bulletType": "1"}
    parts = [ListItem(Paragraph(_safe(text), BODY), leftIndent=14) for text in texts]
    return ListFlowable(parts, bulletFontName=FONT, bulletFontSize=8.5, leftIndent=14, **kind)


def pairs(rows: Sequence[tuple[str, str]], wide: float) -> Any:
    """Return names and values side by side."""
    made = Table(
        [[Paragraph(_safe(name), CELL), Paragraph(_safe(value), CELL_BOLD)] for name, value in rows],
        colWidths=[wide * 0.32, wide * 0.68],
    )
    made.setStyle(TableStyle([*TIGHT, ("LINEBELOW", (0, 0), (-1, -1), 0.3, LINE)]))
    return made


def grid(headings: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[float], *, tall: float = 0.0) -> Any:
    """Return a table whose headings come again on each page.

    Parameters
    ----------
    headings : sequence of str
        One for each column.
    rows : sequence of sequence of str
        Cells; the first of each row is bold.
    widths : sequence of float
        Of the columns. [points]
    tall : float
        Least height of a row, for writing into. [points]
    """
    body = [[Paragraph(_safe(cell), CELL_BOLD if i == 0 else CELL) for i, cell in enumerate(row)] for row in rows]
    made = LongTable(
        [[Paragraph(_safe(cell), CELL_HEAD) for cell in headings], *body],
        colWidths=list(widths),
        repeatRows=1,
        rowHeights=None,
    )
    style = [
        *TIGHT,
        ("GRID", (0, 0), (-1, -1), 0.4, LINE),
        ("BACKGROUND", (0, 0), (-1, 0), colors.Color(0.92, 0.92, 0.92)),
    ]
    if tall > 0:
        style += [("TOPPADDING", (0, 1), (-1, -1), tall / 2), ("BOTTOMPADDING", (0, 1), (-1, -1), tall / 2)]
    made.setStyle(TableStyle(style))
    made.hAlign = "LEFT"
    return made


TIGHT = [
    ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
    ("LEFTPADDING", (0, 0), (-1, -1), 3),
    ("RIGHTPADDING", (0, 0), (-1, -1), 3),
    ("TOPPADDING", (0, 0), (-1, -1), 1.6),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1.6),
]


def _safe(text: str) -> str:
    """Return words that are no markup, and no character that a page cannot hold."""
    return escape(xml_words(text).replace("\u00a0", " ").replace("\u2011", "-"))
