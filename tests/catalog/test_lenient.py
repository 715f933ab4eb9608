"""What a file may leave unsaid because it can only mean one thing."""

from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from catalog.cars_csv import read_cars
from catalog.helix_toml import read_helix_toml

HELIX = """
name = "Mill"
gauge = "45 mm"
turns = 2
rise_per_turn = "285 mm"
brackets_per_turn = 12.0
{tracks}
[deck]
depth = "38 mm"
beam_depth = 0
"""


@pytest.mark.parametrize(
    "names",
    [["single"], ["inner", "outer"], ["inner", "middle", "outer"], ["1", "2", "3", "4"]],
)
def test_tracks_without_a_name_are_called_by_their_place(tmp_path: Path, names: list[str]) -> None:
    tracks = [f'[[tracks]]\nradius = "{1000 + 200 * n} mm"\ncant = 0' for n in range(len(names))]
    file = tmp_path / "mill.toml"
    file.write_text(HELIX.format(tracks="\n".join(tracks)), encoding="utf-8")
    helix = read_helix_toml(file)
    assert [track.name for track in helix.tracks] == names
    assert helix.brackets_per_turn == 12
    assert (helix.deck.beam_depth_mm, helix.tracks[0].cant_mm) == (0, 0)


@pytest.mark.parametrize(
    ("gauge", "model_mm"), [("4 ft 8.5 in", 1435.1 / 32), ("45 mm", 45.0), ("", float("nan"))]
)
def test_the_gauge_of_a_drawing(tmp_path: Path, gauge: str, model_mm: float) -> None:
    """Full-size track can only be the drawing's; a model's gauge is what the model runs on."""
    file = tmp_path / "cars.csv"
    file.write_text(
        "id,scale,dimensions,gauge,height,width,length,wheelbase\n"
        f"W,1:32,full-size,{gauge},13 ft,10 ft,40 ft,30 ft\n",
        encoding="utf-8",
    )
    table = read_cars(file)
    assert_allclose(table.figures["gauge_mm"], [model_mm], atol=1e-6, rtol=0)
    assert_allclose(table.figures["height_mm"], [13 * 304.8 / 32], atol=1e-6, rtol=0)
