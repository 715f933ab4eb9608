"""docs/checks.md is what tests/published compares, and what compares there cannot go silent."""

import difflib
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from tests.published.page import page
from tests.published.record import PAGE, SEEN, Matches, Section, Source, Work

ROOT = Path(__file__).resolve().parents[1]
PUBLISHED = ROOT / "tests" / "published"


def test_the_page_is_what_the_tests_write(tmp_path: Path) -> None:
    fresh = tmp_path / "checks.md"
    # "=", so that pytest does not take the file's place for that of the tests.
    options = ["--write-checks", f"--checks-file={fresh}", "-n", "0", "-p", "no:cacheprovider"]
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *options],
        cwd=ROOT,
        env={name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    written = fresh.read_text(encoding="utf-8")
    for module in PUBLISHED.glob("test_*.py"):
        assert f"(../tests/published/{module.name})" in written, f"{module.name} has no SOURCE"
    standing = PAGE.read_text(encoding="utf-8")
    changes = difflib.unified_diff(
        standing.splitlines(), written.splitlines(), "docs/checks.md", "the tests", lineterm="", n=0
    )
    assert standing == written, (
        "docs/checks.md is out of date; refresh it with: pytest --write-checks -n 0\n"
        + "\n".join(list(changes)[:40])
    )


# --- comparing ------------------------------------------------------------------------------------


@pytest.fixture
def compare() -> Matches:
    return Matches("test_of_a_source")


def test_what_is_off_by_more_than_is_allowed_fails(compare: Matches) -> None:
    compare("throw", 10.5, 10.0, 0.5)
    with pytest.raises(AssertionError, match="throw"):
        compare("throw", 10.5000001, 10.0, 0.5)
    with pytest.raises(AssertionError, match="throw"):
        compare("throw", 10.2, 10.0, share=0.019)
    with pytest.raises(AssertionError, match="throw"):
        compare("throw", [1.0, 2.0], [1.0, 2.2], [0.3, 0.1], cell=["first", "second"])
    assert len(compare.values) == 1


@pytest.mark.parametrize("ours", [np.nan, [np.nan], []])
def test_what_is_no_number_agrees_with_nothing(compare: Matches, ours: object) -> None:
    for ask in (compare.at_least, compare.at_most, compare.more_than, compare.less_than):
        with pytest.raises(AssertionError):
            ask("throw", ours, 1.0)
    with pytest.raises(AssertionError):
        compare("throw", ours, np.nan, 1.0)
    assert compare.values == []


def test_the_one_sided_ones_know_their_side(compare: Matches) -> None:
    compare.at_least("room", 2.0, 2.0)
    compare.at_most("room", 2.0, 2.0)
    compare.more_than("room", 2.1, 2.0)
    compare.less_than("room", 1.9, 2.0)
    for ask, wrong in (
        (compare.at_least, 1.9),
        (compare.at_most, 2.1),
        (compare.more_than, 2.0),
        (compare.less_than, 2.0),
    ):
        with pytest.raises(AssertionError, match="room"):
            ask("room", wrong, 2.0)
    assert len(compare.values) == 4


def test_exactly_is_exact_for_numbers_and_for_texts(compare: Matches) -> None:
    compare.exactly("verdict", "passes", "passes")
    with pytest.raises(AssertionError):
        compare.exactly("verdict", "passes", "marginal")
    with pytest.raises(AssertionError):
        compare.exactly("gauge", 45.0, 45.0 + 1e-12)


def test_a_table_is_compared_cell_by_cell_or_not_at_all(compare: Matches) -> None:
    # A column beside a row would make a table of both.
    with pytest.raises(AssertionError):
        compare("widening", np.ones((3, 1)), np.ones(3), 1.0)
    with pytest.raises(AssertionError, match="3 values, 2 cells"):
        compare("widening", np.ones(3), np.ones(3), 1.0, cell=["R 1", "R 2"])
    with pytest.raises(AssertionError, match="one of them"):
        compare("widening", 1.0, 1.0)


def test_a_source_says_how_it_is_known() -> None:
    with pytest.raises(AssertionError, match="hearsay"):
        Work("somebody", "hearsay")


# --- writing --------------------------------------------------------------------------------------


def written(compare: Matches) -> str:
    """The page of one source that compared this."""
    module = ModuleType("tests.published.test_of_a_source", "A source, made up.")
    module.SOURCE = Source("A source", (Work("Somebody, Something (1900)", SEEN),))
    return page([Section(module, compare.values)])


def cells(compare: Matches) -> list[list[str]]:
    """The lines of its table, cell by cell."""
    lines = [line for line in written(compare).splitlines() if "`test_of_a_source`" in line]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


@pytest.mark.parametrize(
    ("ours", "printed", "shown"),
    [
        (19.0525, 19.05, ["19.05 mm", "19.0525", "+0.0025"]),
        (19.05 + 1e-9, 19.05, ["19.05 mm", "19.05", "0"]),  # rounding
        (-1e-12, 0.0, ["0 mm", "0", "0"]),  # and no -0
        (-0.0, 0.0, ["0 mm", "0", "0"]),
        (863.74, 875.0, ["875 mm", "864", "-11"]),
        (0.00999, 0.0, ["0 mm", "0.010", "+0.010"]),
        (1234.56789, 1234.56789, ["1234.568 mm", "1234.568", "0"]),
    ],
)
def test_numbers_are_rounded_alike_everywhere(
    compare: Matches, ours: float, printed: float, shown: list[str]
) -> None:
    compare("throw", ours, printed, 20.0)
    for noise in (-1e-10, 0.0, 1e-10):
        compare.values[:] = []
        compare("throw", ours + noise, printed, 20.0)
        ((_, *row, allowed, _),) = cells(compare)
        assert row == shown
        assert allowed == "± 20"


def test_a_long_column_is_one_line_with_its_worst_value(compare: Matches) -> None:
    ours = np.arange(12.0)
    printed = ours + np.where(ours == 7, -0.4, 0.1)
    compare("widening", ours, printed, 0.5, where="p. 2", cell=[f"R {n:g}" for n in ours])
    ((what, *row),) = cells(compare)
    assert what == "widening: 12 values, nearest at R 7 (p. 2)"
    assert row[:3] == ["6.6 mm", "7.00", "+0.40"]


def test_a_source_that_compares_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="test_of_a_source"):
        written(Matches("test_of_a_source"))
