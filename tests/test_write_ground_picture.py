"""Pictures of the ground: the map and the view in perspective."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.collections import LineCollection, PolyCollection

from grounds import scattered, shots_of
from spadework.confidence import NextShot
from spadework.errors import InputError
from spadework.ground import Ground, raster_ground, triangulate_shots
from spadework.ground.clipping import clip_ground
from spadework.ground.process import fit_process
from spadework.readings import RasterReading
from spadework.units import LengthUnit
from spadework.write.canvas import svg_bytes
from spadework.write.ground_files import ground_files, write_ground
from spadework.write.ground_picture import GroundPicture, ground_page
from spadework.write.perspective import View, perspective_page


@pytest.fixture(scope="module")
def picture() -> GroundPicture:
    """Forty shots with a wild one, a breakline and a hole; two next shots and a pad."""
    random = np.random.default_rng(4)
    east, north = random.uniform(0, [30, 20], (40, 2)).T
    level = 50 + 0.05 * north + 0.1 * np.sin(east / 5)
    level[7] += 0.4
    shots = shots_of(east, north, level, level_sd=0.003)
    ground = triangulate_shots(shots, breaklines=[("S1", "S2")])
    hole = np.array([[14, 9], [16, 9], [16, 11], [14, 11]], dtype=float)
    return GroundPicture(
        name="Yard of $1 & <co>",
        units=LengthUnit.METRE,
        ground=clip_ground(ground, holes=[hole]),
        shots=shots,
        boundary=(np.array([[-1, -1], [31, -1], [31, 21], [-1, 21]], dtype=float),),
        process=fit_process(shots),
        next_shots=(NextShot(5.0, 5.0, 1.0, 0.5, worth_it=True), NextShot(9.0, 4.0, 0.5, 0.4, worth_it=True)),
        pad=np.array([[4, 4], [4, 8], [9, 8], [9, 4]], dtype=float),
        finish=50.4,
        how=("shots.csv read as points.",),
    )


def test_map_shows_every_shot_breakline_and_next_shot(picture: GroundPicture) -> None:
    """One mark for each shot that misses the others, every kept side, the hole, and the numbers in their order."""
    axes = ground_page(picture).axes[0]
    marks = {line.get_gid(): line for line in axes.lines if line.get_gid()}
    assert sum(name.startswith("residual:") for name in marks) == 40
    left = picture.process.leave_one_out()  # type: ignore[union-attr]
    for row in range(40):
        assert marks[f"residual:{row}"].get_marker() == ("^" if left.error[row] > 0 else "v")
    worst = max(range(40), key=lambda row: marks[f"residual:{row}"].get_markersize())
    assert worst == 7
    breaklines = next(part for part in axes.collections if part.get_gid() == "breaklines")
    assert isinstance(breaklines, LineCollection)
    assert len(breaklines.get_segments()) == len(picture.ground.kept)
    assert [patch for patch in axes.patches if patch.get_gid() == "hole"]
    assert [text.get_text() for text in axes.texts if text.get_text() in {"1", "2"}] == ["1", "2"]


def test_doubt_is_shaded_from_light_to_dark_with_a_legend(picture: GroundPicture) -> None:
    """The legend has a line for each shade, in the user's unit, and its bounds rise."""
    figure = ground_page(picture)
    words = [text.get_text() for text in figure.legends[0].get_texts() if text.get_text().startswith("sd of")]
    assert len(words) >= 3
    lows = [float(text.split()[4]) for text in words]
    assert lows == sorted(lows)
    assert all(text.endswith(" m") for text in words)


def test_map_needs_no_shots_when_the_ground_is_a_raster() -> None:
    """A raster has neither shots nor doubt, and is drawn all the same."""
    east, north = np.meshgrid(np.arange(20.0), np.arange(15.0))
    ground = raster_ground(RasterReading(east, north, 10 + east / 20))
    figure = ground_page(GroundPicture("Field", LengthUnit.FOOT, ground))
    assert not [text for text in figure.legends[0].get_texts() if text.get_text().startswith("sd of")]


def test_same_picture_gives_the_same_bytes_and_keeps_its_name(picture: GroundPicture) -> None:
    """Files are repeatable, and signs that mean something elsewhere stay as they are."""
    files = ground_files(picture)
    assert sorted(files) == ["ground.png", "ground.svg", "perspective.png", "perspective.svg"]
    assert files == ground_files(picture)
    for name in ("ground.svg", "perspective.svg"):
        assert "Yard of $1 &amp; &lt;co&gt;" in files[name].decode()


def test_folder_is_refused_when_it_holds_something_else(picture: GroundPicture, tmp_path: Path) -> None:
    """Nothing is written among somebody else's files."""
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(InputError, match="not written here"):
        write_ground(picture, tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]


class TestView:
    """The perspective by hand."""

    view = View(np.array([10.0, 20.0, 5.0]), 100.0, 180.0, 0.0, 2.0)

    def test_middle_is_in_the_middle(self) -> None:
        """What the eye looks at is at 0, 0 and as far off as the eye stands."""
        flat, depth = self.view.seen(np.array([[10.0, 20.0, 5.0]]))
        assert flat[0] == pytest.approx([0, 0])
        assert depth == pytest.approx([100])

    def test_east_is_right_from_the_south_and_up_is_up(self) -> None:
        """From the south at eye level: 3 m east and 4 m up, heights doubled, at 90 m: 3 / 90 and 8 / 90."""
        flat, depth = self.view.seen(np.array([[13.0, 10.0, 9.0]]))
        assert depth == pytest.approx([90])
        assert flat[0] == pytest.approx([3 / 90, 8 / 90])

    def test_level_ground_rises_on_the_page_towards_the_back(self) -> None:
        """From above, what lies farther off stands higher, and looks smaller."""
        view = replace(self.view, elevation=30.0)
        flat, _ = view.seen(np.array([[5.0, 10, 5], [15, 10, 5], [5, 30, 5], [15, 30, 5]]))
        assert flat[2, 1] > flat[0, 1]
        assert flat[1, 0] - flat[0, 0] > flat[3, 0] - flat[2, 0]

    def test_ground_is_seen_from_the_side_it_falls_to(self) -> None:
        """A ground that falls south-east is seen from there; its relief is drawn large enough."""
        ground = scattered(60, lambda east, north: 50 - 0.01 * east + 0.01 * north)
        view = View.of(ground)
        assert view.bearing == pytest.approx(135.0)
        assert view.exaggeration * float(np.ptp(ground.level)) >= 0.14 * 40


def test_view_draws_each_triangle_the_farthest_first(picture: GroundPicture) -> None:
    """As many faces as triangles; depth falls from the first to the last."""
    axes = perspective_page(picture).axes[0]
    faces = next(part for part in axes.collections if isinstance(part, PolyCollection))
    assert len(faces.get_paths()) == picture.ground.triangle_count
    view = View.of(picture.ground)
    ground = picture.ground
    corners = np.column_stack([ground.east + ground.origin[0], ground.north + ground.origin[1], ground.level])
    flat, depth = view.seen(corners)
    by_place = {tuple(np.round(place, 12)): far for place, far in zip(flat, depth, strict=True)}
    drawn = [np.mean([by_place[tuple(np.round(at, 12))] for at in path.vertices[:3]]) for path in faces.get_paths()]
    assert (np.diff(drawn) <= 1e-9).all()
    assert [line for line in axes.lines if line.get_gid() == "pad"]


def test_view_of_a_large_ground_is_drawn_coarser_and_says_so() -> None:
    """Ten thousand triangles are drawn on a grid, holes left open."""
    east, north = np.meshgrid(np.arange(75.0), np.arange(75.0))
    level = 10 + np.sin(east / 9)
    level[30:40, 30:40] = np.nan
    ground: Ground = raster_ground(RasterReading(east, north, level))
    figure = perspective_page(GroundPicture("Field", LengthUnit.METRE, ground))
    faces = next(part for part in figure.axes[0].collections if isinstance(part, PolyCollection))
    assert len(faces.get_paths()) < ground.triangle_count
    assert b"coarser grid" in svg_bytes(figure, "view")
