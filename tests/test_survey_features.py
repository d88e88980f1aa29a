"""Codes in the notes: what is a code, which number tells lines apart, and which is a size."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from spadework.errors import InputError
from spadework.shots import Shots
from spadework.site import Site, load_site
from spadework.survey import plan_inputs
from spadework.survey_features import CODES, find_features, read_code
from surveyed_yard import surveyed

NOTES = [
    ("FENCE", ("FENCE", "", "")),
    ("fence corner, leaning", ("FENCE", "", "corner, leaning")),
    ("TREE 400mm", ("TREE", "", "400mm")),
    ("TREE 40 cm", ("TREE", "", "40 cm")),
    ('Tree 16"', ("TREE", "", '16"')),
    ("TOP 2", ("TOP", "2", "")),
    ("TOP2 edge of bank", ("TOP", "2", "edge of bank")),
    ("toe-1", ("TOE", "1", "")),
    ("treetop", None),
    ("old TREE", None),
    ("", None),
    ("12", None),
]


@pytest.mark.parametrize(("note", "wanted"), NOTES, ids=[row[0] or "empty" for row in NOTES])
def test_note_is_a_code_when_it_begins_with_one(note: str, wanted: tuple[str, str, str] | None) -> None:
    """Code, number and the rest."""
    assert read_code(note, CODES) == wanted


def shots(*rows: tuple[str, float, float, str]) -> Shots:
    """Shots with notes."""
    names, east, north, notes = zip(*rows, strict=True)
    return Shots(
        names,
        np.array(east, dtype=float),
        np.array(north, dtype=float),
        np.full(len(rows), 100.0),
        notes,
        np.arange(1, len(rows) + 1),
        ("a.csv",) * len(rows),
    )


@pytest.fixture
def site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """A site with an empty table of features, a keep-out at T2, and its own references."""
    folder = tmp_path_factory.mktemp("site")
    (folder / "a.csv").write_text("point,east,north,level\nA,0,0,1\n", encoding="utf-8")
    text = (
        '[site]\nunits = "ft"\n[[readings]]\nfile = "a.csv"\n[[keep-out]]\nname = "oak"\nat = "T2"\nradius = "3 m"\n'
        '[stakes]\nreferences = ["A", "B"]\n[features]\nHEDGE = "boundary"\nFENCE = "none"\n'
    )
    (folder / "site.toml").write_text(text, encoding="utf-8")
    return load_site(folder)


def test_circles_are_twelve_trunks_when_trees_have_sizes(site: Site) -> None:
    """A trunk of 16 in keeps 16 ft clear, one of 2 m the most there is; T2 has a keep-out of its own."""
    found = find_features(
        site,
        shots(("T1", 0, 0, "TREE 16 in"), ("T2", 5, 5, "TREE 400mm"), ("T3", 9, 9, "TREE 2 m"), ("T4", 1, 9, "TREE")),
    )
    clear = {keep.name: keep.clearance for keep in found.keep_outs}
    assert clear == {"tree T1": pytest.approx(16 * 0.3048), "tree T3": 15.0, "tree T4": 2.0}


def test_number_of_a_tree_is_said_to_be_no_width_when_it_has_no_unit(site: Site) -> None:
    """TREE 400 may be the four hundredth tree: the plain circle is kept clear, and the note named; T2 has its own."""
    rows = (("T1", 0, 0, "TREE 400"), ("T2", 5, 5, "TREE 300"), ("T3", 9, 0, "POLE 0.3"), ("T4", 9, 9, "TREE 12 in"))
    # Three main stems are no trunk of 3 m.
    found = find_features(site, shots(*rows, ("T5", 1, 9, "TREE old"), ("T6", 2, 9, "TREE old, 3 main stems")))
    assert {keep.name: keep.clearance for keep in found.keep_outs}["tree T1"] == 2.0
    told = [notice for notice in found.notices if "no width" in notice]
    assert [notice.split(" has ")[0] for notice in told] == [
        "“TREE 400” at T1",
        "“POLE 0.3” at T3",
        "“TREE old, 3 main stems” at T6",
    ]
    assert told[0].endswith("6.56 ft are kept clear around it. A width is written like TREE 16in.")


def test_misspelt_code_is_asked_about(site: Site) -> None:
    """A drain that is misspelt is not kept clear of, so the note is named; other words are left alone."""
    rows = (("D1", 0, 0, "DRIAN"), ("D2", 9, 0, "drian, blue pipe"), ("W", 3, 3, "well"), ("P", 4, 4, "plum"))
    found = find_features(site, shots(*rows))
    assert found.keep_outs == ()
    (told,) = found.notices
    assert told == "“DRIAN” in the notes of D1, D2 is no code, and was left as a note: did you mean DRAIN?"


def test_drain_is_a_strip_when_it_has_several_points(site: Site) -> None:
    """Each stretch is kept a metre clear of, and one point alone is a circle."""
    rows = (("D1", 0, 0, "DRAIN"), ("D2", 10, 0, "DRAIN"), ("D3", 10, 5, "DRAIN"), ("G1", 3, 3, "GAS"))
    found = find_features(site, shots(*rows))
    assert [(keep.name, keep.clearance) for keep in found.keep_outs] == [
        ("drain, stretch 1", 1.0),
        ("drain, stretch 2", 1.0),
        ("gas", 1.0),
    ]
    assert found.keep_outs[0].outline.tolist() == [[0, 0.05], [10, 0.05], [10, -0.05], [0, -0.05]]


def test_codes_are_changed_when_the_site_file_says_so(site: Site) -> None:
    """HEDGE is a boundary here and FENCE nothing; the references stay those of the site file."""
    rows = (
        ("P", 0, 0, "HEDGE"),
        ("Q", 9, 0, "HEDGE"),
        ("R", 9, 9, "HEDGE"),
        ("F", 1, 1, "FENCE"),
        ("W", 2, 2, "HOUSE"),
    )
    found = find_features(site, shots(*rows, ("V", 5, 2, "HOUSE")))
    assert found.boundary[0].tolist() == [[0, 0], [9, 0], [9, 9]]
    assert found.references == ()


def test_boundary_is_refused_when_it_has_two_points(site: Site) -> None:
    """Two posts enclose nothing; the way out is said."""
    with pytest.raises(InputError, match='HEDGE = "none"'):
        find_features(site, shots(("P", 0, 0, "HEDGE"), ("Q", 9, 0, "HEDGE"), ("R", 5, 5, "grass")))


CODED = (
    "point,east (m),north (m),level (m),note\n"
    "F1,0,0,100,FENCE\nF2,20,0,100,FENCE\nF3,20,15,100,FENCE\nF4,0,15,100,FENCE\n"
    "W1,2,-1,100,HOUSE\nW2,12,-1,100,HOUSE\nT1,5,9,100,TREE 400mm\nD1,15,0,100,DRAIN\nD2,15,15,100,DRAIN\n"
    "B1,2,12,100.4,TOP 1\nB2,6,12,100.4,TOP 1\nC1,2,11,99.9,TOE 1\nC2,6,11,99.9,TOE 1\nO,18,4,100,OAK\n"
    "G,9,5,100,grass\n"
)


def test_boundary_is_refused_where_its_shots_cross_over(site: Site) -> None:
    """The shots are blamed by name and line, not the site file, which does not name them."""
    corners = (("a", 0.0, 0.0), ("b", 20.0, 20.0), ("c", 20.0, 0.0), ("d", 0.0, 20.0))
    with pytest.raises(InputError, match="coded HEDGE crosses itself: a to b meets c to d") as caught:
        find_features(site, shots(*((*corner, "HEDGE") for corner in corners)))
    (fault,) = caught.value.faults
    assert fault.source.line == 3


def test_codes_when_the_table_of_features_is_there(tmp_path: Path) -> None:
    """Fence, house, tree, drain and bank become boundary, references, keep-outs and breaklines without drawing."""
    rest = '[features]\nOAK = { role = "keep-out", clearance = "3 m" }'
    survey = surveyed(tmp_path, '[[readings]]\nfile = "p.csv"', {"p.csv": CODED}, rest=rest)
    assert survey.boundary[0].tolist() == [[0, 0], [20, 0], [20, 15], [0, 15]]
    clear = {keep.name: keep.clearance for keep in survey.keep_outs}
    assert clear == {"tree T1": pytest.approx(4.8), "drain": 1.0, "oak O": 3.0}
    assert survey.features.breaklines == (("B1", "B2"), ("C1", "C2"))
    assert survey.features.references == ("W1", "W2")
    inputs = plan_inputs(load_site(tmp_path), survey)
    assert [reference[0] for reference in inputs.references] == ["W1", "W2"]


def test_codes_when_there_is_no_table_of_features(tmp_path: Path) -> None:
    """Without the table notes are only notes."""
    survey = surveyed(tmp_path, '[[readings]]\nfile = "p.csv"', {"p.csv": CODED})
    assert survey.boundary == ()
    assert survey.keep_outs == ()
