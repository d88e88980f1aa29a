"""``spadework scan``: the least-work spots over a whole elevation raster."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from spadework.cli.printing import AS_JSON, hint, print_json, print_list, print_table, scan_progress, warn
from spadework.cli.scan_options import ScanWishes, scan_options

if TYPE_CHECKING:
    from spadework.placement.raster_report import ScanReport
    from spadework.units import LengthUnit


@click.command(
    short_help="Find the least-work spots over a whole elevation raster.",
    epilog="""\b
Examples:
  spadework scan county.tif --pad "5.5 x 3.6 m" --soil loam
  spadework scan county.tif --site my-garden --boundary land.geojson --setback "5 m" --out spots
  spadework scan county.tif --pad "16 x 12 ft" --units ft --goal balance --greatest-slope "10 %" --map cost.tif

\b
The raster is in metres or feet of a projection; one in degrees is warped first. Nothing is resampled.
""",
)
@click.argument("raster", metavar="RASTER", type=click.Path(path_type=Path))
@scan_options
@AS_JSON
def scan(*, raster: Path, as_json: bool, **given: Any) -> None:
    """Search RASTER, at every cell and every bearing, for the spots where a pad costs least.

    The level is free and the best one at each place. Printed are the best spots that lie apart, worked out exactly on
    the triangles between the cell centres and moved between the cells; beside them stands what the search went by, the
    same goal over the cells whose centres lie under the pad. Of that, no position at a cell centre and no bearing tried
    has less than the amount printed.
    """
    from spadework.survey_scan import scan_file
    from spadework.write import check_folder, write_folder

    wishes = ScanWishes.of(given)
    if wishes.out is not None:
        check_folder(wishes.out)
    hint(f"Scanning {raster}")
    keep_map, drop_map, map_for = _map_for(wishes)
    try:
        report = scan_file(raster, **wishes.arguments, map_for=map_for, progress=scan_progress(wishes.unit))
        keep_map()
    finally:
        drop_map()
    if wishes.out is not None:
        from spadework.write.scan_results import scan_files

        hint("Writing")
        write_folder(wishes.out, scan_files(report, wishes.unit))
    warn([*wishes.notices, *report.notices])
    if as_json:
        from spadework.write.scan_tables import scan_content

        print_json(scan_content(report))
    else:
        _print_report(report, wishes.unit)
    for written in (wishes.out, wishes.picture):
        if written is not None:
            click.echo(f"Written: {written}", err=True)


def _map_for(wishes: ScanWishes) -> tuple[Callable[[], None], Callable[[], None], Any]:
    """Return what keeps the map, what drops it, and what begins it; nothing to do where none is wanted."""
    if wishes.picture is None:
        return (lambda: None), (lambda: None), None
    from spadework.write.scan_map import ScanMap

    target = ScanMap(wishes.picture, wishes.arguments["goal"].name)
    return target.keep, target.drop, target.open


def _print_report(report: ScanReport, unit: LengthUnit) -> None:
    """Print the spots for people."""
    from spadework.build.cautions import DigFacts, cautions_for
    from spadework.units import format_length, format_volume

    def row(number: int) -> list[str]:
        found = report.spots[number]
        spot, at = found.spot, found.spot.placement
        east, north, finish = (format_length(v, unit, with_unit=False) for v in (at.east, at.north, at.finish))
        volumes = (format_volume(v, unit, decimals=3) for v in (spot.cut, spot.fill, spot.value, found.cells_value))
        return [str(number + 1), east, north, f"{at.bearing:.1f}°", finish, *volumes]

    scan = report.scan
    click.echo(f"{report.file}: {report.goal.sentence or report.goal.name}. Lengths in {unit.value}.\n")
    print_table(
        ("spot", "east", "north", "bearing", "finish", "cut", "fill", report.goal.name, "over cells"),
        map(row, range(len(report.spots))),
    )
    least = format_volume(float(scan.spots.value[0]), unit, decimals=3)
    click.echo(
        f"\nCut, fill and {report.goal.name} are exact on the triangles between cell centres, at spots moved between "
        f'the cells. "Over cells" is what the search went by: the {scan.masks.fewest} to {scan.masks.most} cells whose '
        "centres lie under the pad, each for its share of it. "
        f"Over cells, none of the {scan.candidates:,} poses searched ({scan.positions:,} cell centres, "
        f"{len(scan.masks.bearings)} bearings) needs less than {least}; "
        f"{scan.worked_out:,} were worked out, bounds ruled out the rest. No bound is given for poses between them."
    )
    if report.accuracy is not None:
        click.echo(
            f"Levels good to {format_length(report.accuracy, unit)} make up to {format_volume(report.floor, unit)} of "
            "cut plus fill on level ground all by themselves: spots that differ by less are not told apart."
        )
    print_list(
        "Before you dig",
        [
            "A raster finds the spot; it is no survey. Measure the spot itself, and plan with those readings.",
            *(
                c.text
                for c in cautions_for(report.pad, DigFacts(0.0, 0.0), unit)
                if c.name in {"utilities", "local-code"}
            ),
        ],
    )
