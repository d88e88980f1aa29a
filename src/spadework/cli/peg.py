"""``spadework peg``: does the line of sight run level? The test between two pegs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from spadework.cli.printing import AS_JSON, print_json
from spadework.errors import Fault, InputError, Source

if TYPE_CHECKING:
    from spadework.levels.pegs import PegTest
    from spadework.units import LengthUnit


@click.command(
    short_help="Test whether the instrument's line of sight is level, from readings on two pegs.",
    epilog="""\b
Examples:
  spadework peg 1.432 1.218 1.503 1.301 --apart "60 m" --near "3 m"
  spadework peg 5.32 6.68 4.95 6.33 --units ft --apart "300 ft"

\b
Read A and B from midway between them, move close to A, read both again.
""",
)
@click.argument("readings", metavar="A1 B1 A2 B2", nargs=4)
@click.option("--apart", metavar="LENGTH", required=True, help='How far A and B are apart, such as "60 m".')
@click.option(
    "--near",
    metavar="LENGTH",
    default="0 m",
    show_default=True,
    help="How far the second set-up stands behind A, in line with both pegs; minus where it stands between them.",
)
@click.option(
    "--units",
    type=click.Choice(["m", "ft", "ft-in"]),
    default="m",
    show_default=True,
    help="Unit of plain numbers.",
)
@AS_JSON
def peg(*, readings: tuple[str, str, str, str], apart: str, near: str, units: str, as_json: bool) -> None:
    """Work the two-peg test: readings on pegs A and B from midway (A1 B1), then from close to A (A2 B2).

    Prints by how much the line of sight rises or falls, whether that keeps the limit of 0.003 in 100, what the far rod
    should have read, and what it does to a shot at unequal sights.
    """
    from spadework.levels.pegs import PegTest
    from spadework.units import LengthUnit

    unit = LengthUnit(units)
    faults: list[Fault] = []

    def length(name: str, text: str) -> float:
        from spadework.units import parse_length

        try:
            return parse_length(text.strip(), unit, source=Source(name))
        except InputError as error:
            faults.extend(error.faults)
            return 1.0

    a1, b1, a2, b2 = (length(name, text) for name, text in zip(("A1", "B1", "A2", "B2"), readings, strict=True))
    between, behind = length("--apart", apart), length("--near", near)
    if faults:
        raise InputError(faults)
    if between <= 0 or behind <= -between / 2:
        remedy = "Stand closer to A than to B the second time"
        raise InputError(Fault(f"--apart {apart} and --near {near} do not go together", remedy=remedy))
    test = PegTest(a1, b1, a2, b2, (between / 2, between / 2), (abs(behind), between + behind))
    if as_json:
        print_json(
            {
                "unit": "m",
                "collimation": test.collimation,
                "seconds": test.seconds,
                "fall": test.fall,
                "far_reading": b2,
                "far_reading_right": test.right_second_b,
                "within": test.within(),
            }
        )
    else:
        _print(test, unit)


def _print(test: PegTest, unit: LengthUnit) -> None:
    """Print the test for people."""
    from spadework.levels.pegs import FIELD_LIMIT
    from spadework.units import LengthUnit, format_length

    metric = unit is LengthUnit.METRE
    stretch = 30.0 if metric else 100 * 0.3048
    name = "30 m" if metric else "100 ft"

    def fine(metres: float, *, sign: bool = False) -> str:
        return format_length(metres, unit, step=16 if unit is LengthUnit.FOOT_INCH else 4, sign=sign)

    way = "rises" if test.collimation > 0 else "falls"
    verdict = "within" if test.within() else "OVER"
    click.echo(f"Peg B lies {fine(abs(test.fall))} {'below' if test.fall > 0 else 'above'} peg A.")
    click.echo(
        f"The line of sight {way} {fine(abs(test.collimation) * stretch)} in {name} "
        f"({abs(test.seconds):.0f} seconds of arc): {verdict} the limit of {fine(FIELD_LIMIT * stretch)}."
    )
    click.echo(f"The far rod read {fine(test.second_b)} and should have read {fine(test.right_second_b)}.")
    if not test.within():
        click.echo(
            "Have it adjusted, or keep every backsight as long as its foresight: then it falls out. A shot "
            f"{name} further than the backsight comes out {fine(abs(test.collimation) * stretch)} "
            f"{'low' if test.collimation > 0 else 'high'}."
        )
