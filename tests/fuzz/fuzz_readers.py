"""Throw broken files at every reader: each must be read, or refused in words, within its time and memory.

Coverage-guided, with the fuzzer that the extra ``fuzz`` installs (Linux, any number of seconds or cases)::

    python tests/fuzz/fuzz_readers.py --seconds 600
    python tests/fuzz/fuzz_readers.py --cases 100000 --target text

Without it the same harness runs on blind mutations of the same seeds (``--blind``). A file that breaks a reader is left
in the folder named at the end, and is run again by naming it: ``python tests/fuzz/fuzz_readers.py FILE``.

The first three bytes of a case choose the reader, the units and the kind that are insisted on; the rest is the file.
What counts as broken: any exception that is not one of the project's own, ten seconds of computing, or (guided) two
gigabytes.
"""

from __future__ import annotations

import argparse
import random
import signal
import sys
import tempfile
import time
import warnings
from collections.abc import Iterator
from pathlib import Path
from types import FrameType

HERE = Path(__file__).resolve().parent
SAMPLES = HERE.parents[1] / "sample_surveys"
BROKEN = HERE.parent / "broken" / "readings"
LONGEST = 10
MOST_MEMORY = 2048
LARGEST = 20_000

SUFFIXES = {
    "text": (".csv", ".txt"),
    "exchange": (".gpx", ".xml", ".landxml"),
    "cloud": (".las", ".laz", ".ply", ".xyz"),
    "raster": (".asc", ".tif"),
    "outline": (".geojson",),
    "site": (".toml",),
}
GPX = b"""<?xml version="1.0"?><gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="51.5001" lon="-1.2001"><ele>81.2</ele><name>A</name></wpt>
<wpt lat="51.5002" lon="-1.2003"><ele>81.4</ele><name>B</name></wpt></gpx>"""
LANDXML = b"""<?xml version="1.0"?><LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"
 date="2026-01-01" time="00:00:00"><Units><Metric areaUnit="squareMeter" linearUnit="meter" volumeUnit="cubicMeter"
 temperatureUnit="celsius" pressureUnit="HPA"/></Units><CgPoints><CgPoint name="1">1.0 2.0 100.0</CgPoint></CgPoints>
<Surfaces><Surface name="s"><Definition surfType="TIN"><Pnts><P id="1">0 0 1</P><P id="2">0 9 1</P><P id="3">9 0 2</P>
</Pnts><Faces><F>1 2 3</F></Faces></Definition></Surface></Surfaces></LandXML>"""
POINTS = [(0.5 * i, 0.5 * j, 1.0 + 0.02 * i + 0.01 * j) for i in range(10) for j in range(10)]
XYZ = "".join(f"{east} {north} {level:.3f}\n" for east, north, level in POINTS).encode()
AXES = tuple(f"property float {axis}" for axis in "xyz")
PLY_HEAD = ("ply", "format ascii 1.0", "element vertex 100", *AXES, "end_header")
PLY = "\n".join(PLY_HEAD).encode() + b"\n" + XYZ
ASC = b"ncols 3\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\nNODATA_value -9999\n1 2 3\n4 5 -9999\n"
SITE = b"""[site]
units = "m"
datum = { point = "BM1", level = 100.0, sd = "2 mm" }
[levels]
adjust = "least-squares"
bench-marks = { BM2 = 101.2, BM3 = { level = "99.870 m", sd = "4 mm" } }
[positions]
adjust = "compass"
[[readings]]
file = "shots.csv"
peg-test = { a1 = 1.432, b1 = 1.218, a2 = 1.503, b2 = 1.301, apart = "60 m", near = 3 }
curvature = true
places = { A = [0, 0], B = [8.4, 0, 100] }
"""
TEXTS = (
    b"line,from,to,along (m),drop (m)\nL1,A,B,1.0,0.25\n",
    b"from,to,slope distance (m),angle\nA,B,12.30,4.5 deg\nB,C,8.10,-3 %\n",
    b"setup,point,angle,distance (m),vertical,rod (m)\nS1,A,45-30-15,21.30,-1-20-00,1.60\nS1,BM,0-00-00,10.0,,1.2\n",
    b"point,distance A (m),distance B (m),side\nP1,5.32,7.10,left\n",
    b"point,from A (m),from B (m),from C (m)\nP1,6.32,9.10,8.21\nP2,8.01,7.70,9.92\nP3,9.10,6.32,17.4\n",
    b"point,from,distance (m)\nP,A,6.3\nP,B,9.1\nP,C,8.2\nQ,P,3.1\nQ,A,7.7\nQ,B,8.8\n",
    b"station,point,angle (dms),distance (m)\nS,A,0-00-00,10\nS,P,45-30-15,21.3\nA,S,180-0-0,10\nA,P,60-1-2,19\n",
    b"from,to,distance (m),slope (%),bearing\nA,B,10,2,90\nB,C,10,1,180\nC,D,10,-1,270\nD,A,10.3,-2,0\n",
    b"name,latitude,longitude\nA,51.50010,-1.20010\nB,51.50020,-1.20030\n",
    b"point,station,offset,level\n1,0+10,L 2.0,99.10\n2,2+40,R 12,99.30\n",
    b"point,upper,middle,lower\nA,4.31,4.16,4.02\n",
    b"point,BS (m),BS distance (m),FS (m),FS distance (m)\nA,1.325,40,,\nB,1.104,20,1.966,25\nA,,,0.470,22\n",
    b"point,BS upper (m),BS middle,BS lower,FS upper,FS middle,FS lower\nA,1.5,1.3,1.1,,,\nB,,,,0.58,0.47,0.36\n",
    b"from,to,rise (m),set-ups,distance (km),sd (mm)\nA,B,1.234,2,0.12,2\nB,C,-0.5,1,0.06,1.5\nC,A,-0.734,3,0.2,3\n",
)
COMMON = (
    *(b",", b";", b"\t", b"\n", b"\r\n", b'"', b"'", b"|", b" ", b"#", b"\x00", b"\xff\xfe", b"\xef\xbb\xbf"),
    *(b"1e400", b"nan", b"inf", b"-", b"3' 6 1/2\"", b"1,25", b"4.31/4.16/4.02", b"45-30-15", b"N 45 E", b"12 %"),
    *(b"BS", b"IS", b"FS", b"rod", b"east", b"north", b"level", b"drop", b"<!ENTITY a '&a;&a;'>", b"<![CDATA[", b"</"),
)


def seeds(target: str) -> list[bytes]:
    """Return sound and broken files of a target to begin with, each behind its three choosing bytes."""
    found: list[tuple[str, bytes]] = []
    if target == "text":
        found += [
            (path.suffix, path.read_bytes()) for path in sorted(BROKEN.iterdir()) if path.suffix in {".csv", ".txt"}
        ]
        found += [(".csv", (SAMPLES / "laser-yard/shots.csv").read_bytes()), *((".csv", text) for text in TEXTS)]
        found.append((".txt", (SAMPLES / "string-grid/drops.txt").read_bytes()))
    elif target == "exchange":
        found += [(".gpx", GPX), (".xml", LANDXML)]
    elif target == "cloud":
        found += [(".ply", PLY), (".xyz", XYZ), (".las", _las()), (".laz", b"LASF" + bytes(250))]
    elif target == "raster":
        found += [(".asc", ASC), (".tif", (SAMPLES / "paddock-raster/paddock.tif").read_bytes()[:LARGEST])]
    elif target == "outline":
        found.append((".geojson", (SAMPLES / "paddock-raster/paddock.geojson").read_bytes()))
    elif target == "site":
        found += [(".toml", path.read_bytes()) for path in sorted(SAMPLES.glob("*/site.toml"))]
        found.append((".toml", SITE))
    return [
        bytes([SUFFIXES[target].index(suffix), 1 + n % 3, 0]) + content for n, (suffix, content) in enumerate(found)
    ]


def _las() -> bytes:
    """Return a small cloud as the library writes it, or a header alone where the library is missing."""
    try:
        import io  # noqa: PLC0415

        import laspy  # noqa: PLC0415
        import numpy as np  # noqa: PLC0415
    except ImportError:
        return b"LASF" + bytes(400)
    cloud = laspy.create(point_format=3, file_version="1.2")
    cloud.x, cloud.y, cloud.z = np.array(POINTS).T
    buffer = io.BytesIO()
    cloud.write(buffer)
    return buffer.getvalue()


def read_case(target: str, case: bytes, folder: Path) -> bool:
    """Read one case; True when it was read, False when it was refused in words. Anything else is a fault of ours."""
    from spadework.errors import SpadeworkError  # noqa: PLC0415 - imported under the fuzzer's eye
    from spadework.levels import reduce_level_book, reduce_rod_list, tolerance_rule  # noqa: PLC0415
    from spadework.levels.net_book import reduce_level_net  # noqa: PLC0415
    from spadework.levels.sights import SightRules  # noqa: PLC0415
    from spadework.levels.wording import Wording  # noqa: PLC0415
    from spadework.read import ALL_KINDS, read_file  # noqa: PLC0415
    from spadework.read.outline import read_outline  # noqa: PLC0415
    from spadework.readings import LevelBook, LevelNetLines, RodList  # noqa: PLC0415
    from spadework.readings_positions import RadialShots, SlopeWalk, TapeTies  # noqa: PLC0415
    from spadework.site import load_site  # noqa: PLC0415
    from spadework.survey_sights import book_with_sights  # noqa: PLC0415
    from spadework.units import LengthUnit  # noqa: PLC0415

    choose, content = case[:3].ljust(3, b"\x00"), case[3:]
    suffix = SUFFIXES[target][choose[0] % len(SUFFIXES[target])]
    if target == "site":
        _neighbours(folder)
    file = folder / f"case{suffix}"
    file.write_bytes(content)
    units = (None, *LengthUnit)[choose[1] % 4]
    kind = (None, *ALL_KINDS)[choose[2] % (1 + len(ALL_KINDS))] if choose[2] >= 128 else None
    try:
        if target == "site":
            load_site(file)
        elif target == "outline":
            read_outline(file)
        else:
            reading = read_file(file, units=units, kind=kind).reading
            if isinstance(reading, LevelBook):
                known = {next((name for name in reading.point if name), "BM"): 100.0}
                book, _, _ = book_with_sights(reading, None, Wording.of_book(reading.reading_resolution))
                if book.sight_length is not None:
                    book, _, _ = book_with_sights(reading, SightRules(1e-4, "a slant"), Wording.of_book(0.001))
                reduce_level_book(book, known, tolerance=tolerance_rule("1 m"), adjust="least-squares")
            elif isinstance(reading, TapeTies | RadialShots | SlopeWalk):
                _place(reading)
            elif isinstance(reading, LevelNetLines):
                reduce_level_net(reading, {reading.start[0]: 100.0}, tolerance=tolerance_rule("1 m"))
            elif isinstance(reading, RodList):
                known = {next((name for name in reading.point if name), "BM"): 100.0}
                reduce_rod_list(reading, known, tolerance=tolerance_rule("1 m"))
    except SpadeworkError as error:
        if not str(error).strip():
            raise AssertionError("refused without a word") from error
        return False
    return True


def _place(reading: object) -> None:
    """Place the points of ties, sights or a walk from made-up known ones, and adjust them together."""
    import math  # noqa: PLC0415

    from spadework.positions import KnownPlace, reduce_radial, reduce_slope_walk, reduce_ties  # noqa: PLC0415
    from spadework.positions.places import name_key  # noqa: PLC0415
    from spadework.readings_positions import RadialShots, SlopeWalk, TapeTies  # noqa: PLC0415
    from spadework.site_schema import ReadingsTable  # noqa: PLC0415
    from spadework.survey_nets import fit_of_file  # noqa: PLC0415

    starts = reading.reference if isinstance(reading, TapeTies) else ()
    starts = reading.station if isinstance(reading, RadialShots) else starts
    starts = reading.start[:1] if isinstance(reading, SlopeWalk) else starts
    names = list(dict.fromkeys(map(name_key, starts)))
    known = {
        name: KnownPlace(9.0 * math.cos(1.9 * row), 9.0 * math.sin(1.9 * row), 100.0) for row, name in enumerate(names)
    }
    if isinstance(reading, TapeTies):
        shots, _ = reduce_ties(reading, known, side="left")
    elif isinstance(reading, SlopeWalk):
        shots, _ = reduce_slope_walk(reading, known, bearing=30.0, leg_sd=0.05, allow_misclosure=True)
    elif isinstance(reading, RadialShots):
        shots, _ = reduce_radial(reading, known, zeros=dict.fromkeys(names, 0.0))
    else:
        return
    fit_of_file(reading, shots, known, ReadingsTable(file="-"))


def _neighbours(folder: Path) -> None:
    """Put the files that a site file names beside it."""
    for name in ("laser-yard/shots.csv", "string-grid/drops.txt", "paddock-raster/paddock.tif"):
        if not (folder / Path(name).name).exists():
            (folder / Path(name).name).write_bytes((SAMPLES / name).read_bytes())


class SlowCaseError(Exception):
    """A case that took too long."""


def _late(_signal: int, _frame: FrameType | None) -> None:
    raise SlowCaseError(f"more than {LONGEST} s of computing for one case")


def mutations(target: str, seed: int) -> Iterator[bytes]:
    """Give blind mutations of the seeds, without end: bytes changed, pieces cut, doubled, exchanged and put in."""
    chance = random.Random(f"{target} {seed}")  # noqa: S311 - not a secret
    start = seeds(target)
    yield from start
    while True:
        case = bytearray(chance.choice(start))
        for _ in range(chance.randint(1, 6)):
            at = chance.randrange(len(case) + 1)
            end = min(len(case), at + chance.randint(1, 40))
            what = chance.randrange(6)
            if what == 0:
                case[at:at] = chance.choice(COMMON)
            elif what == 1 and at < len(case):
                case[at] = chance.randrange(256)
            elif what == 2:
                del case[at:end]
            elif what == 3:
                case[at:at] = case[at:end] * chance.randint(1, 3)
            elif what == 4:
                other = chance.choice(start)
                cut = chance.randrange(len(other) + 1)
                case[at:end] = other[cut : cut + chance.randint(1, 80)]
            else:
                lines = bytes(case[3:]).split(b"\n")
                chance.shuffle(lines)
                case[3:] = b"\n".join(lines)
        yield bytes(case[:LARGEST])


def blind(target: str, cases: int, seed: int) -> tuple[int, int]:
    """Run blind mutations; return how many were read and how many refused. A fault of ours is raised with its file."""
    read = refused = 0
    can_stop = hasattr(signal, "SIGPROF")
    with tempfile.TemporaryDirectory() as folder:
        for number, case in enumerate(mutations(target, seed)):
            if number >= cases:
                break
            if can_stop:
                signal.signal(signal.SIGPROF, _late)
                signal.setitimer(signal.ITIMER_PROF, LONGEST)
            try:
                with warnings.catch_warnings():
                    warnings.simplefilter("ignore")
                    done = read_case(target, case, Path(folder))
            except BaseException as error:
                kept = Path(tempfile.mkdtemp(prefix="spadework-fuzz-")) / f"{target}.case"
                kept.write_bytes(case)
                raise AssertionError(
                    f"{target} case {number} (kept as {kept}): {type(error).__name__}: {error}"
                ) from error
            finally:
                if can_stop:
                    signal.setitimer(signal.ITIMER_PROF, 0)
            read, refused = read + done, refused + (not done)
    return read, refused


def guided(target: str, *, seconds: int, cases: int) -> None:
    """Run the coverage-guided fuzzer on one target; it ends the process."""
    import atheris  # noqa: PLC0415 - only there with the extra

    with atheris.instrument_imports(include=["spadework"]):
        import spadework.levels  # noqa: PLC0415
        import spadework.read.outline  # noqa: PLC0415
        import spadework.site  # noqa: F401, PLC0415
    corpus = Path(tempfile.mkdtemp(prefix=f"spadework-corpus-{target}-"))
    for number, seed in enumerate(seeds(target)):
        (corpus / f"seed{number}").write_bytes(seed)
    words = corpus.parent / f"{corpus.name}.dict"
    escaped = ("".join(f"\\x{byte:02x}" for byte in word) for word in COMMON)
    words.write_text("".join(f'"{word}"\n' for word in escaped), encoding="ascii")
    folder = Path(tempfile.mkdtemp(prefix="spadework-case-"))
    kept = Path(tempfile.mkdtemp(prefix="spadework-fuzz-"))

    def one(case: bytes) -> None:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            read_case(target, case, folder)

    limits = [f"-timeout={LONGEST}", f"-rss_limit_mb={MOST_MEMORY}", f"-max_len={LARGEST}", "-use_value_profile=0"]
    amount = [f"-max_total_time={seconds}"] if seconds else [f"-runs={cases}"]
    print(f"{target}: cases that break a reader are left in {kept}", flush=True)
    atheris.Setup([sys.argv[0], *limits, *amount, f"-dict={words}", f"-artifact_prefix={kept}/", str(corpus)], one)
    atheris.Fuzz()


def main() -> None:
    """Run what the call asks for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("file", nargs="?", type=Path, help="a case that was kept, to be run again")
    parser.add_argument("--target", choices=SUFFIXES, default="text")
    parser.add_argument("--seconds", type=int, default=0)
    parser.add_argument("--cases", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--blind", action="store_true", help="mutate without looking at the code")
    asked = parser.parse_args()
    if asked.file:
        with tempfile.TemporaryDirectory() as folder:
            print("read" if read_case(asked.target, asked.file.read_bytes(), Path(folder)) else "refused in words")
    elif asked.blind:
        started = time.perf_counter()
        read, refused = blind(asked.target, asked.cases, asked.seed)
        print(f"{asked.target}: {read} read, {refused} refused, {time.perf_counter() - started:.0f} s")
    else:
        guided(asked.target, seconds=asked.seconds, cases=asked.cases)


if __name__ == "__main__":
    main()
