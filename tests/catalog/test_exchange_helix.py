"""helix.toml: what a person writes, what is written back, and what is refused in one line."""

from pathlib import Path

import pytest
from hypothesis import given
from numpy.testing import assert_allclose

from catalog.errors import DataError
from catalog.helix import Helix, Obstacle, Stringers
from catalog.helix_toml import read_helix_toml, write_helix_toml
from catalog.lengths import Unit
from tests.catalog.possible import helices

WRITTEN = """\
name = "Quarry Bank helix"
gauge = "45 mm"
turns = 2.5
rise_per_turn = "285 mm"
brackets_per_turn = 12
climbs = "counterclockwise"

[[tracks]]
name = "inner"
radius = "1190 mm"

[[tracks]]
name = "outer"
diameter = "2.76 m"

[deck]
depth = "38 mm"
beam_depth = "24 mm"
beam_width = "1 1/2 in"

[posts]
inside = "none"
outside = "120 mm"

[allowance]
overhead = "12 mm"
play = "1 mm"
survey_every_months = 6

[adjusters]
pitch = "1.25 mm"
travel = "40 mm"

[[profile]]
station = -6
railhead = "0 mm"

[[obstacles]]
name = "east portal"
track = "inner"
station = -9
headroom = "240 mm"
left = "95 mm"
width = "20 mm"

[[obstacles]]
name = "fence"
distance = "1.5 m"
at = "foot"
right = "80 mm"
bottom = "2 in"
top = "120 mm"

[[leads]]
at = "foot"
length = "2 m"
grade = 0.01

[recovery]
hand = "60 mm"

[stringers]
width = "38 mm"
height = "2 1/2 in"
count = 2
material = "redwood"
train_kg_per_m = 12
"""


def _read(folder: Path, text: str | bytes, units: Unit | None = None) -> Helix:
    path = folder / "helix.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_helix_toml(path, units)


def test_what_a_person_writes(tmp_path: Path) -> None:
    helix = _read(tmp_path, WRITTEN)
    assert (helix.name, helix.turns, helix.brackets_per_turn) == ("Quarry Bank helix", 2.5, 12)
    assert [track.radius_mm for track in helix.tracks] == [1190.0, 1380.0]
    assert_allclose(helix.deck.beam_width_mm, 38.1)
    assert (helix.posts.inside_mm, helix.posts.outside_mm) == ("none", 120.0)
    assert (helix.allowance.overhead_mm, helix.allowance.side_mm) == (12.0, None)
    assert helix.adjusters is not None
    assert helix.adjusters.step == 0.25
    assert helix.profile[0].station == -6.0
    assert helix.obstacles == (
        Obstacle(
            name="east portal",
            track="inner",
            station=-9,
            headroom_mm=240,
            left_mm=95,
            width_mm=20,
        ),
        Obstacle(
            name="fence", distance_mm=1500, at="foot", right_mm=80, bottom_mm=50.8, top_mm=120
        ),
    )
    assert helix.recovery.hand_mm == 60.0
    assert helix.allowance.survey_every_months == 6
    assert helix.stringers == Stringers(
        width_mm=38, height_mm=63.5, count=2, material="redwood", train_kg_per_m=12
    )
    assert helix.leads[0].length_mm == 2000.0


@pytest.mark.parametrize(
    ("old", "new", "units"),
    [
        ('radius = "1190 mm"', "radius_mm = 1190", None),
        ('radius = "1190 mm"', "radius_mm = 1190.0", None),
        ('radius = "1190 mm"', 'radius_in = "1190 mm"', None),
        ('radius = "1190 mm"', "diameter_mm = 2380", None),
        ('radius = "1190 mm"', "radius = 1190", "mm"),
        ('radius = "1190 mm"', 'radius = "1190"', "mm"),
        ('depth = "38 mm"', "depth = 38", "mm"),
        ('gauge = "45 mm"', 'gauge_mm = "4.5 cm"', "in"),
        ("name", "\ufeffname", None),
        ("\n", "\r\n", None),
    ],
)
def test_other_ways_to_write_the_same(
    tmp_path: Path, old: str, new: str, units: Unit | None
) -> None:
    text = WRITTEN.replace(old, new) if old == "\n" else WRITTEN.replace(old, new, 1)
    assert text != WRITTEN
    assert _read(tmp_path, text, units) == _read(tmp_path, WRITTEN)


def test_inches_by_key(tmp_path: Path) -> None:
    """1 in is 25.4 mm exactly (international yard and pound agreement, 1959)."""
    text = WRITTEN.replace('radius = "1190 mm"', "radius_in = 46.5")
    assert_allclose(_read(tmp_path, text).tracks[0].radius_mm, 1181.1)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One folder for all examples of a property."""
    return tmp_path_factory.mktemp("helix")


@given(helices())
def test_what_is_written_reads_back_equal(folder: Path, helix: Helix) -> None:
    assert _read(folder, write_helix_toml(helix)) == helix


@pytest.mark.parametrize(
    ("old", "new", "beginning", "right"),
    [
        # The file as a whole
        (WRITTEN, "", ", name: is missing", ""),
        ("Quarry", "\udce9", ", line 1: byte 0xE9 is not UTF-8", "save the file as UTF-8"),
        ("Quarry", "\0", ", line 1: holds a NUL byte", "save it again"),
        ("turns = 2.5", "turns 2.5", ", line 3: is not TOML: expected '='", ""),
        ("turns = 2.5", "turns = 2,5", ", line 3: is not TOML", ""),
        ('"45 mm"', '"45 mm', ", line 2: is not TOML", ""),
        ("grade = 0.01\n", "grade =\n", ", line 57: is not TOML", ""),
        ("turns = 2.5", "turns = 2.5\nturns = 3", ", line 4: is not TOML: cannot overwrite", ""),
        ("turns = 2.5", f"turns = 1{'0' * 5000}", ": holds a number of thousands of figures", ""),
        ("turns = 2.5", f"turns = {'[' * 20_000}", ": is nested too deeply", ""),
        # Keys
        ("turns", "turn", ", turn: unknown key", "did you mean 'turns'?"),
        ("[deck]", "[dekc]", ", dekc: unknown key", "did you mean 'deck'?"),
        ('depth = "38 mm"', 'deepness = "1 mm"', ", [deck], deepness: unknown key", "depth, beam"),
        ("left =", "lefft =", ", [[obstacles]] 1, lefft: unknown key", "'left'?"),
        ("radius =", "radius_cm =", ", [[tracks]] 1, radius_cm: unknown key", "'radius_mm'?"),
        ("diameter =", 'radius = "1 m"\ndiameter =', ", [[tracks]] 2, diameter: stands", "one of"),
        ("gauge =", 'gauge_in = "1 in"\ngauge =', ", gauge: stands beside gauge_in", "write one"),
        ('[deck]\ndepth = "38 mm"', "[deck]", ", [deck], depth: is missing", ""),
        ("turns = 2.5\n", "", ", turns: is missing", ""),
        # Shapes
        ("[deck]", "[[deck]]", ": deck must be a table", "[deck]"),
        ("[[leads]]", "[leads]", ": leads must be tables", "[[leads]]"),
        ("name = ", "name = 5 #", ", name: must be text (it is 5)", ""),
        ("turns = 2.5", 'turns = "2.5"', ", turns: must be a number (it is '2.5')", ""),
        ("turns = 2.5", "turns = true", ", turns: must be a number", ""),
        ("= 12\n", "= 12.5\n", ", brackets_per_turn: must be a whole number (it is 12.5)", ""),
        ("= 12\n", "= 2\n", ", brackets_per_turn: must be a whole number from 3 to 720", "is 2)"),
        ('"45 mm"', "[45]", ", gauge: must be a length like", "8 1/2 in"),
        ('"45 mm"', "true", ", gauge: must be a length like", "216 mm"),
        ('"45 mm"', "1979-05-27", ", gauge: must be a length like", "216 mm"),
        # Lengths
        ('"45 mm"', "45", ", gauge: 45 has no unit", 'write "45 mm", or gauge_mm = 45'),
        ('"45 mm"', '"45"', ", gauge: '45' has no unit", "mm or in"),
        ('"45 mm"', '"wide"', ", gauge: 'wide'", "write"),
        ('gauge = "45 mm"', "gauge_mm = nan", ", gauge_mm: 'nan'", "write"),
        ('gauge = "45 mm"', "gauge_mm = 1e99", ", gauge_mm: '1e+99'", "unit right"),
        ('"45 mm"', '"0 mm"', ", gauge: must be more than 0 (it is 0.0 mm)", ""),
        ('"38 mm"', '"-38 mm"', ", [deck], depth: must not be negative (it is -38.0 mm)", ""),
        ('"none"', '"nothing"', ", [posts], inside: 'nothing'", "write"),
        ('"none"', '"0 mm"', ", [posts], inside: must be more than 0 (it is 0.0 mm)", ""),
        # Impossible figures
        ("turns = 2.5", "turns = 0", ", turns: must be more than 0", "at most 100"),
        ("turns = 2.5", "turns = inf", ", turns: must be a real number", ""),
        ("turns = 2.5", f"turns = 1{'0' * 400}", ", turns: must be a real number (it is 1000", ""),
        ('climbs = "counterclockwise"', 'climbs = "up"', ", climbs: must be 'counterclock", "'up'"),
        (
            'at = "foot"\nlength',
            'at = "feet"\nlength',
            ", [[leads]] 1, at: must be 'foot' or 'head'",
            "'feet'",
        ),
        ("grade = 0.01", "grade = 3", ", [[leads]] 1: grade 3 is a rise of", "0.03 is 3 %"),
        ("station = -9\n", "", ", [[obstacles]] 1: needs a station, or a distance", "one of them"),
        (
            'bottom = "2 in"',
            'bottom = "5 in"',
            ", [[obstacles]] 2: top (120 mm) must be",
            "(127 mm)",
        ),
        ('distance = "1.5 m"', "station = 3", ", [[obstacles]] 2: at 'foot' goes with a dist", ""),
        ('at = "foot"\nright', 'at = "up"\nright', ", [[obstacles]] 2, at: must be 'foot'", "'up'"),
        (
            '"1.5 m"',
            '"2.1 m"',
            ": obstacle 'fence' stands 2100 mm along a straight",
            "2000 mm long",
        ),
        ('at = "foot"\nlength', 'at = "head"\nlength', ": obstacle 'fence' stands 1500 mm", "none"),
        ('hand = "60 mm"', 'hand = "0 mm"', ", [recovery], hand: must be more than 0 (it is", ""),
        ('hand = "60 mm"', "hand = true", ", [recovery], hand: must be a length", "216 mm"),
        ("hand =", "hnad =", ", [recovery], hnad: unknown key", "'hand'?"),
        ("[recovery]", "[[recovery]]", ": recovery must be a table", "[recovery]"),
        ('"redwood"', '"redwod"', ", [stringers]: material 'redwod' is not known", "'redwood'?"),
        ('material = "redwood"', "", ", [stringers]: need a material, or", "modulus_gpa"),
        ("count = 2", "count = 2\nmodulus_gpa = 8", ", [stringers]: need a material, or", "one of"),
        ("count = 2", "count = 0", ", [stringers], count: must be a whole number", "it is 0"),
        ("train_kg_per_m = 12", "", ", [stringers], train_kg_per_m: ", ""),
        ("months = 6", "months = 0", ", [allowance], survey_every_months: must be more", "it is 0"),
        (
            'railhead = "0 mm"',
            'railhead = "0 mm"\n[[profile]]\nstation = -6.0\nrailhead = "1 mm"',
            ": two points of the profile are at station -6",
            "keep one",
        ),
        (
            'railhead = "0 mm"',
            'railhead = "9 m"',
            ": the railhead goes from 9000 mm at station -6",
            "",
        ),
        ('"outer"', '"inner"', ": two tracks have the same name", ""),
        ('"2.76 m"', '"2.4 m"', ": track 'outer' (radius 1200 mm) must lie outside", "inner to"),
        ('"285 mm"', '"60 mm"', ": deck (38 mm) and beam (24 mm) leave no headroom", ""),
        ('"285 mm"', '"285 cm"', ": track 'inner' climbs 38.1 %", "right unit?"),
    ],
)
def test_a_bad_helix(tmp_path: Path, old: str, new: str, beginning: str, right: str) -> None:
    assert old in WRITTEN
    text = WRITTEN.replace(old, new, 1).encode(errors="surrogateescape")
    with pytest.raises(DataError) as raised:
        _read(tmp_path, text)
    line = str(raised.value)
    assert "\n" not in line
    assert len(line) < 400
    assert line.startswith(f"{tmp_path / 'helix.toml'}{beginning}")
    assert right in line


def test_a_helix_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(DataError, match=r"helix\.toml: cannot be read: No such file"):
        read_helix_toml(tmp_path / "helix.toml")
