"""Codes in the notes: what is a code, which number tells lines apart, and which is a size."""

from __future__ import annotations

import numpy as np
import pytest

from spadework.errors import InputError
from spadework.shots import Shots
from spadework.site import Site, load_site
from spadework.survey_features import CODES, find_features, read_code

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
