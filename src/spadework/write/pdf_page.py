"""The frame of a printed sheet: paper, fonts, page numbers, and drawings laid into the page as vectors."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib.figure import Figure
from pypdf import PageObject, PdfReader, PdfWriter
from pypdf.generic import ArrayObject, DecodedStreamObject, DictionaryObject, NameObject
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, SimpleDocTemplate

from spadework.write.canvas import drawing_settings

__all__ = ["BOLD", "FONT", "MARGIN", "PAPERS", "Drawing", "page_room", "printed"]

PAPERS: dict[str, tuple[float, float]] = {"A4": A4, "Letter": LETTER}
MARGIN = 13 * mm
FOOT = 7 * mm  # room of the page number, within the bottom margin
FONT, BOLD = "DejaVu Sans", "DejaVu Sans Bold"


def page_room(paper: str) -> tuple[float, float]:
    """Return width and height inside the margins. [points]"""
    wide, high = PAPERS[paper]
    return wide - 2 * MARGIN, high - 2 * MARGIN - FOOT


@dataclass
class Placed:
    """A drawing and where it came to stand on which page. [points]"""

    figure: Figure
    page: int
    left: float
    bottom: float


class Drawing(Flowable):  # type: ignore[misc]
    """Room for a drawing; the drawing itself is laid in once all pages are made.

    Parameters
    ----------
    figure : Figure
        The drawing, at the size that it is to have.
    placed : list of Placed
        Where it notes its place.
    """

    def __init__(self, figure: Figure, placed: list[Placed]) -> None:
        super().__init__()
        self.figure = figure
        self.placed = placed
        self.width, self.height = (72.0 * float(side) for side in figure.get_size_inches())

    def wrap(self, _wide: float, _high: float) -> tuple[float, float]:
        """Return the room that it takes. [points]"""
        return self.width, self.height

    def draw(self) -> None:
        """Note the place."""
        left, bottom = self.canv.absolutePosition(0, 0)
        self.placed.append(Placed(self.figure, self.canv.getPageNumber() - 1, left, bottom))


@dataclass
class Sheet:
    """What is put together into one file."""

    placed: list[Placed] = field(default_factory=list)

    def drawing(self, figure: Figure) -> Drawing:
        """Return room for a drawing."""
        return Drawing(figure, self.placed)


def printed(story: Callable[[Sheet], Sequence[Any]], *, paper: str, title: str, foot: str) -> bytes:
    """Return a PDF file; the same story gives the same bytes.

    Parameters
    ----------
    story : callable
        Returns what stands on the pages, given the sheet that makes room for drawings.
    paper : str
        ``"A4"`` or ``"Letter"``.
    title : str
        Title of the file.
    foot : str
        What stands at the foot of every page, before its number.
    """
    _register_fonts()
    sheet, stream = Sheet(), io.BytesIO()
    document = SimpleDocTemplate(
        stream,
        pagesize=PAPERS[paper],
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=MARGIN + FOOT,
        title=title,
        author="",
        creator="Spadework",
        invariant=1,
        lang="en",
        pageCompression=1,
    )
    document.build(list(story(sheet)), canvasmaker=_numbered(foot))
    writer = PdfWriter(clone_from=io.BytesIO(stream.getvalue()))
    # All kept until the end: the writer knows what it has copied by the place of its reader in memory.
    drawings = [PdfReader(io.BytesIO(_vector(place.figure))) for place in sheet.placed]
    for number, (place, drawing) in enumerate(zip(sheet.placed, drawings, strict=True)):
        _lay_in(writer, place, drawing.pages[0], f"/Drawing{number}")
    made = io.BytesIO()
    writer.write(made)
    return made.getvalue()


def _register_fonts() -> None:
    """Make the fonts known that have primes, fractions and arrows: those that come with the plotting library."""
    folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
    known = set(pdfmetrics.getRegisteredFontNames())
    for name, file in ((FONT, "DejaVuSans.ttf"), (BOLD, "DejaVuSans-Bold.ttf")):
        if name not in known:
            pdfmetrics.registerFont(TTFont(name, str(folder / file)))
    pdfmetrics.registerFontFamily(FONT, normal=FONT, bold=BOLD, italic=FONT, boldItalic=BOLD)


def _vector(figure: Figure) -> bytes:
    """Return a drawing as a page of PDF, its text as text."""
    stream = io.BytesIO()
    with drawing_settings(**{"pdf.fonttype": 3}):
        figure.savefig(stream, format="pdf", metadata={"CreationDate": None, "Creator": None, "Producer": None})
    return stream.getvalue()


def _lay_in(writer: PdfWriter, place: Placed, drawn: PageObject, name: str) -> None:
    """Lay a drawing into its page as a form: it is copied whole, and not one of its strokes read again."""
    form = DecodedStreamObject()
    strokes: Any = drawn["/Contents"].get_object()
    form.set_data(strokes.get_data())
    form.update(
        {
            NameObject("/Type"): NameObject("/XObject"),
            NameObject("/Subtype"): NameObject("/Form"),
            NameObject("/BBox"): drawn.mediabox,
            NameObject("/Resources"): drawn["/Resources"].clone(writer),
        }
    )
    page = writer.pages[place.page]
    resources: Any = page["/Resources"].get_object()
    forms = resources.setdefault(NameObject("/XObject"), DictionaryObject()).get_object()
    forms[NameObject(name)] = writer._add_object(form.flate_encode())  # noqa: SLF001 - the library has no other door
    call = DecodedStreamObject()
    call.set_data(f"q 1 0 0 1 {place.left:.3f} {place.bottom:.3f} cm {name} Do Q\n".encode())
    parts = page["/Contents"]
    whole = parts if isinstance(parts, ArrayObject) else ArrayObject([page.raw_get("/Contents")])
    page[NameObject("/Contents")] = ArrayObject([*whole, writer._add_object(call)])  # noqa: SLF001 - as above


def _numbered(foot: str) -> type[Any]:
    """Return a canvas that writes ``page 2 of 5`` once it knows how many there are."""

    class Numbered(Canvas):  # type: ignore[misc]
        def __init__(self, *arguments: Any, **named: Any) -> None:
            super().__init__(*arguments, **named)
            self.states: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802 - the canvas calls it so
            self.states.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            count = len(self.states)
            for number, state in enumerate(self.states, 1):
                self.__dict__.update(state)
                wide = self._pagesize[0]
                self.setFont(FONT, 7.5)
                self.drawString(MARGIN, MARGIN, _shortened(foot, wide - 2 * MARGIN - 70))
                self.drawRightString(wide - MARGIN, MARGIN, f"page {number} of {count}")
                super().showPage()
            super().save()

    return Numbered


def _shortened(words: str, room: float) -> str:
    """Return words cut to a width, with an ellipsis. [points]"""
    if pdfmetrics.stringWidth(words, FONT, 7.5) <= room:
        return words
    while words and pdfmetrics.stringWidth(f"{words}…", FONT, 7.5) > room:
        words = words[:-1]
    return f"{words}…"
