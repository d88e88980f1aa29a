"""What a heading means and which unit it names: ``Easting [m]``, ``BS_ft``, ``rod, ft-in``."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass

from spadework.units import LengthUnit

__all__ = ["SYNONYMS", "UNITS", "ColumnUnit", "Heading", "nearest_heading", "read_heading", "unit_named"]


@dataclass(frozen=True)
class ColumnUnit:
    """The unit in which the cells of a column are written.

    Parameters
    ----------
    label : str
        As said to the user.
    length_unit : LengthUnit
        What the parser of lengths is told.
    times, over : float
        A plain number times ``times`` over ``over`` is in metres; two factors, because a thousandth is exact only as
        a divisor.
    bare_inches : bool, optional
        For inches: a number without marks is inches.
    said_decimal : bool
        The heading says decimal, so a column such as 5.02, 5.11 raises no question.
    """

    label: str
    length_unit: LengthUnit
    times: float = 1.0
    over: float = 1.0
    bare_inches: bool | None = None
    said_decimal: bool = False

    @property
    def feet(self) -> bool:
        """Whether this is a unit of feet or inches."""
        return self.length_unit is not LengthUnit.METRE


METRES = ColumnUnit("metres", LengthUnit.METRE)
CENTIMETRES = ColumnUnit("centimetres", LengthUnit.METRE, over=100.0)
MILLIMETRES = ColumnUnit("millimetres", LengthUnit.METRE, over=1000.0)
KILOMETRES = ColumnUnit("kilometres", LengthUnit.METRE, times=1000.0)
MILES = ColumnUnit("miles", LengthUnit.FOOT, times=1609.344, said_decimal=True)
FEET = ColumnUnit("decimal feet", LengthUnit.FOOT, times=0.3048)
SAID_FEET = ColumnUnit("decimal feet", LengthUnit.FOOT, times=0.3048, said_decimal=True)
FEET_INCHES = ColumnUnit("feet and inches", LengthUnit.FOOT_INCH)
INCHES = ColumnUnit("inches", LengthUnit.FOOT_INCH, times=0.0254, bare_inches=True)
# 1200/3937 m, retired at the end of 2022 (US Federal Register 85 FR 62698); old coordinates still carry it.
SURVEY_FEET = ColumnUnit("US survey feet", LengthUnit.FOOT, times=1200.0, over=3937.0, said_decimal=True)

UNITS: dict[str, ColumnUnit] = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), METRES),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), CENTIMETRES),
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), MILLIMETRES),
    **dict.fromkeys(("km", "kilometre", "kilometres", "kilometer", "kilometers"), KILOMETRES),
    **dict.fromkeys(("mi", "mile", "miles"), MILES),
    **dict.fromkeys(("ft", "foot", "feet", "'"), FEET),
    **dict.fromkeys(("decimal ft", "decimal feet", "dec ft", "ft decimal", "feet decimal", "tenths of ft"), SAID_FEET),
    **dict.fromkeys(("ft in", "feet inches", "feet and inches", "foot inch", "ft and in", "ft inches"), FEET_INCHES),
    **dict.fromkeys(("in", "inch", "inches", '"'), INCHES),
    **dict.fromkeys(("us ft", "us survey ft", "us survey feet", "us survey foot", "ftus", "usft"), SURVEY_FEET),
}
UNIT_OF_SITE = {LengthUnit.METRE: METRES, LengthUnit.FOOT: FEET, LengthUnit.FOOT_INCH: FEET_INCHES}

# Meanings by heading, letters and digits only. What a heading means may still depend on the kind of table.
SYNONYMS: dict[str, tuple[str, ...]] = {
    "setup": ("setup", "setupno", "instrument", "inst", "instrumentstation", "instrumentsetup", "standing"),
    "station": ("station", "stn", "sta", "chainage", "ch"),
    "point": (
        *("point", "pt", "pnt", "pointno", "ptno", "pointnumber", "pointname", "pointid", "ptid", "name", "p", "mark"),
        *("peg", "label", "shot", "target", "staffstation", "grid", "gridlabel", "gridpoint"),
    ),
    "number": ("no", "number", "nr", "id", "row"),
    "east": (
        "e",
        "east",
        "easting",
        "eastings",
        "x",
        "xeast",
        "across",
        "distanceacross",
        "distacross",
        "acrossdistance",
    ),
    "north": (
        "n",
        "north",
        "northing",
        "northings",
        "y",
        "ynorth",
        "along",
        "distancealong",
        "distalong",
        "alongdistance",
    ),
    "rod": (
        *(
            "rod",
            "reading",
            "rodreading",
            "staff",
            "staffreading",
            "levelstaff",
            "laserrod",
            "laserreading",
            "levelrod",
        ),
        *("rodlevel", "detector"),
    ),
    "level": (
        *(
            "level",
            "rl",
            "reducedlevel",
            "elevation",
            "elev",
            "ele",
            "el",
            "z",
            "height",
            "ht",
            "altitude",
            "groundlevel",
        ),
        *("rlinitial", "initialrl", "groundelevation", "initiallevel", "initialelevation"),
    ),
    "note": (
        *("note", "notes", "remark", "remarks", "description", "desc", "d", "code", "comment", "comments", "feature"),
        *("featurecode", "what"),
    ),
    "backsight": ("bs", "backsight", "backsights", "bsight"),
    "intermediate": (
        *("is", "ifs", "intermediate", "intermediatesight", "intersight", "inter", "intermediateforesight", "isifs"),
        "intermediates",
    ),
    "foresight": ("fs", "foresight", "foresights", "fsight"),
    "hi": (
        *("hi", "hpc", "hoc", "heightofinstrument", "heightofcollimation", "collimation", "collimationheight", "hihpc"),
        *("heightofplaneofcollimation", "planeofcollimation", "instrumentheight", "collimationlevel"),
    ),
    "rise": ("rise", "rises"),
    "fall": ("fall", "falls"),
    "difference": (
        *(
            "difference",
            "leveldifference",
            "differenceoflevel",
            "differenceinlevel",
            "heightdifference",
            "dh",
            "deltah",
        ),
        *("elevationdifference", "differenceinelevation", "elevdiff", "diffelev", "delev", "dlevel", "δh", "diff"),
    ),
    "backsightlength": (
        *("bsdistance", "bsdist", "backsightdistance", "backsightdist", "distancebs", "distbs", "distancetobs"),
        *("bslength", "backsightlength", "dbs", "bsd", "bssightlength", "distancebacksight", "lengthbs"),
    ),
    "sightlength": (
        *("fsdistance", "fsdist", "foresightdistance", "foresightdist", "distancefs", "distfs", "distancetofs"),
        *("fslength", "foresightlength", "dfs", "fsd", "fssightlength", "distanceforesight", "lengthfs"),
        *("isfsdistance", "fsisdistance", "sightdistance", "sightlength", "lengthofsight", "sightdist"),
    ),
    "bsupper": ("bsupper", "upperbs", "backsightupper", "bstop", "topbs", "bsupperwire", "bsu"),
    "bsmiddle": ("bsmiddle", "middlebs", "backsightmiddle", "bsmid", "midbs", "bsmiddlewire", "bsm"),
    "bslower": ("bslower", "lowerbs", "backsightlower", "bsbottom", "bottombs", "bslowerwire", "bsl"),
    "fsupper": ("fsupper", "upperfs", "foresightupper", "fstop", "topfs", "fsupperwire", "fsu"),
    "fsmiddle": ("fsmiddle", "middlefs", "foresightmiddle", "fsmid", "midfs", "fsmiddlewire", "fsm"),
    "fslower": ("fslower", "lowerfs", "foresightlower", "fsbottom", "bottomfs", "fslowerwire", "fsl"),
    "setups": ("setups", "noofsetups", "numberofsetups", "nsetups", "setupcount", "instrumentsetups"),
    "sd": ("stdev", "standarddeviation", "sigma", "stddev", "standarderror"),
    "known": (
        *("known", "knownlevel", "bmlevel", "bm", "givenlevel", "benchmarklevel", "benchmark", "givenrl", "knownrl"),
        *("bmrl", "bmelevation", "knownelevation", "givenelevation", "bmelev"),
    ),
    "distance": ("distance", "dist", "length", "run", "distancealongrun"),
    "offset": ("offset", "off", "os"),
    "latitude": ("latitude", "lat"),
    "longitude": ("longitude", "lon", "long", "lng"),
    "string": ("string", "line", "stringline", "lineno", "linename", "stringname"),
    "drop": ("drop", "drops", "down", "downfromline", "downfromstring", "belowline", "belowstring", "below"),
    "from": ("from", "frompoint", "start", "startpoint"),
    "to": ("to", "topoint", "end", "endpoint"),
    "slope": ("slope", "slopeangle", "gradient", "grade", "percent", "incline", "pitch", "clinometer", "slopepercent"),
    "slopedistance": ("slopedistance", "slopedist", "sd", "tapedslope", "distancealongslope"),
    "horizontaldistance": ("horizontaldistance", "horizontaldist", "horizdist", "hdist", "hd"),
    "direction": ("direction", "angle", "horizontalangle", "hangle", "ha", "hz", "circle", "horizontalcircle", "hcr"),
    "bearing": ("bearing", "azimuth", "az", "brg", "wcb", "wholecirclebearing", "compassbearing"),
    "vertical": ("verticalangle", "vangle", "va", "vert", "inclination", "altitudeangle", "elevationangle"),
    "zenith": ("zenith", "zenithangle", "zenithdistance", "za", "zd"),
    "upper": ("upper", "upperwire", "upperhair", "top", "topwire", "uh", "upperstadia"),
    "middle": ("middle", "middlewire", "middlehair", "mid", "centre", "center", "centrewire", "centerwire", "mh"),
    "lower": ("lower", "lowerwire", "lowerhair", "bottom", "bottomwire", "lh", "lowerstadia"),
    "interval": ("interval", "intercept", "stadiainterval", "rodintercept", "staffintercept", "stadia"),
    "targetheight": ("targetheight", "prismheight", "th", "hr", "heightoftarget", "reflectorheight"),
    "ih": ("ih", "hinst", "heightofinst", "instheight"),
    "side": ("side", "hand", "leftright", "lr", "leftorright"),
}
MEANING_OF = {word: meaning for meaning, words in SYNONYMS.items() for word in words}
LENGTHS = frozenset(
    (
        "east",
        "north",
        "rod",
        "level",
        "backsight",
        "intermediate",
        "foresight",
        "hi",
        "rise",
        "fall",
        "known",
        "distance",
        *("difference", "sd", "backsightlength", "sightlength"),
        *(f"{sight}{wire}" for sight in ("bs", "fs") for wire in ("upper", "middle", "lower")),
        *("drop", "slopedistance", "horizontaldistance", "upper", "middle", "lower", "interval", "targetheight", "ih"),
        *(f"tie{number}" for number in range(1, 13)),
    )
)
LONGEST_HEADING = 100
BRACKET = re.compile(r"[(\[{]([^)\]}]*)[)\]}]")
TAIL = re.compile(r"[\s_,;:/.]+(?:in\s+)?")
# Words in brackets that say something about a column, but not its unit.
REMARKS = frozenset(
    ("derived", "printed", "given", "observed", "initial", "reduced", "optional", "approx", "approximate", "known")
) | {"assumed", "local", "grid", "down", "up"}


@dataclass(frozen=True)
class Heading:
    """One heading, taken apart.

    Parameters
    ----------
    text : str
        As written.
    meaning : str
        A key of ``SYNONYMS``; empty where it is not recognised.
    unit : ColumnUnit, optional
        The unit it names.
    unknown_unit : str
        What stands in the place of a unit and is none.
    """

    text: str
    meaning: str = ""
    unit: ColumnUnit | None = None
    unknown_unit: str = ""

    @property
    def is_length(self) -> bool:
        """Whether the cells below are lengths."""
        return self.meaning in LENGTHS


def letters(text: str) -> str:
    """Return the letters and digits of a heading, in lower case."""
    return "".join(character for character in text.casefold() if character.isalnum())


def unit_named(words: str) -> ColumnUnit | None:
    """Return the unit that some words name, or None: ``ft-in``, ``decimal feet``, ``m AOD``."""
    plain = " ".join(re.split(r"[\s_\-/+&.]+", words.casefold().strip())).strip()
    plain = plain.removeprefix("in ") if plain not in UNITS else plain
    if plain in UNITS:
        return UNITS[plain]
    first, _, rest = plain.partition(" ")
    # "m AOD", "ft NAVD88": a unit and the name of a datum.
    return UNITS.get(first) if rest and len(first) <= 2 and first not in ("in", "'", '"') and rest.isalnum() else None


def read_heading(text: str) -> Heading:
    """Take a heading apart into its meaning and its unit.

    Parameters
    ----------
    text : str
        As written: ``Rod reading (ft)``.

    Returns
    -------
    Heading
        With an empty meaning where it is not recognised.
    """
    if len(text) > LONGEST_HEADING:
        return Heading(text)
    unit, unknown = None, ""
    for inside in BRACKET.findall(text):
        found = unit_named(inside)
        if found:
            unit = found
        elif letters(inside) not in MEANING_OF and not REMARKS.intersection(inside.casefold().split()):
            unknown = inside.strip()
    name = BRACKET.sub(" ", text).strip()
    meaning = MEANING_OF.get(letters(name), "")
    if not meaning and unit is None:
        name, unit = cut_unit(name)
        meaning = MEANING_OF.get(letters(name), "")
    if not meaning and len({MEANING_OF.get(letters(part)) for part in name.split("/")}) == 1:
        meaning = MEANING_OF.get(letters(name.split("/")[0]), "")
    if not meaning and not name:
        meaning = next(
            (MEANING_OF[letters(inside)] for inside in BRACKET.findall(text) if letters(inside) in MEANING_OF), ""
        )
    if unit is not None and unit in (KILOMETRES, MILES) and meaning != "distance":
        # Only how long a line is gets written in these.
        unknown, unit = unit.label, None
    return Heading(text.strip(), meaning, unit, unknown if meaning in LENGTHS and unit is None else "")


def cut_unit(name: str) -> tuple[str, ColumnUnit | None]:
    """Return a heading without the unit at its end, and the unit: ``BS_ft``, ``rod, ft-in``, ``rod in feet``."""
    for gap in TAIL.finditer(name):
        unit = unit_named(name[gap.end() :])
        if unit and name[: gap.start()].strip():
            return name[: gap.start()].strip(), unit
    return name, None


def nearest_heading(text: str, meanings: tuple[str, ...]) -> str:
    """Return which of some meanings a mistyped heading comes close to, or nothing."""
    if len(text) > LONGEST_HEADING:
        return ""
    words = {word: meaning for meaning in meanings for word in SYNONYMS[meaning] if len(word) > 2}
    near = difflib.get_close_matches(letters(cut_unit(BRACKET.sub(" ", text))[0]), words, n=1, cutoff=0.75)
    return words[near[0]] if near else ""
