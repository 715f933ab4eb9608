"""What the pages say of the code and of each other is so: links, names, checks, columns."""

import ast
import importlib
import re
from functools import cache
from pathlib import Path
from types import ModuleType
from urllib.parse import urlsplit

import pytest

from catalog import blocks_csv, cars_csv, frames_csv, survey_csv
from catalog.helix import (
    Adjusters,
    Allowance,
    Deck,
    Helix,
    Lead,
    Obstacle,
    Posts,
    ProfilePoint,
    Recovery,
    Stringers,
    Track,
)
from clearance.judge.verdict import VERDICTS
from clearance.show.words import CHECKS

ROOT = Path(__file__).resolve().parents[1]
DOCS = ROOT / "docs"
PAGES = [*sorted(DOCS.glob("*.md")), ROOT / "README.md", ROOT / "DEVELOPERS.md"]
PARTS = ("geometry", "judge", "show", "cli")


@cache
def text_of(name: str) -> str:
    return (DOCS / name).read_text(encoding="utf-8")


def without_code(text: str) -> str:
    """A page without its indented and quoted code."""
    lines = [line for line in text.splitlines() if not line.startswith("    ")]
    return re.sub(r"`[^`]*`", "", "\n".join(lines))


# --- links ----------------------------------------------------------------------------------------


def slug(heading: str) -> str:
    """The anchor of a heading, as it is made where the pages are read."""
    kept = re.sub(r"[^\w\- ]", "", heading.strip().lower())
    return kept.replace(" ", "-")


def anchors(page: Path) -> set[str]:
    return {
        slug(line.lstrip("#"))
        for line in page.read_text(encoding="utf-8").splitlines()
        if re.match(r"#+ ", line)
    }


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    text = without_code(page.read_text(encoding="utf-8"))
    for target in re.findall(r"\]\(([^()\s]+)\)", text):
        parts = urlsplit(target)
        if parts.scheme:
            assert parts.scheme in ("http", "https"), target
            continue
        other = (page.parent / parts.path) if parts.path else page
        assert other.exists(), target
        if parts.fragment:
            assert parts.fragment in anchors(other), target


def test_every_page_is_reached_from_the_first() -> None:
    """Who opens README.md finds every other page by following links."""
    reached, left = set(), [ROOT / "README.md"]
    while left:
        page = left.pop()
        if page in reached or page.suffix != ".md":
            continue
        reached.add(page)
        for target in re.findall(r"\]\(([^()\s:#]+)[^()\s]*\)", page.read_text(encoding="utf-8")):
            left.append((page.parent / target).resolve())
    assert set(PAGES) <= reached


# --- theory and code ------------------------------------------------------------------------------

CITED = re.compile(
    r"`((?:geometry|judge|show|cli|catalog|tests)/[\w/]+\.py)`(?:\s+\(((?:`[\w.]+`(?:,\s+)?)+)\))?"
)


def cited() -> list[tuple[str, str]]:
    """Each file that theory.md names, with each name that it gives of it; "": the file alone."""
    found = []
    for path, names in CITED.findall(text_of("theory.md")):
        found += [(path, name) for name in re.findall(r"`([\w.]+)`", names)] or [(path, "")]
    return found


def file_of(path: str) -> Path:
    return ROOT / "clearance" / path if path.startswith(PARTS) else ROOT / path


def module_of(path: str) -> ModuleType:
    return importlib.import_module(".".join(file_of(path).relative_to(ROOT).with_suffix("").parts))


@pytest.mark.parametrize(("path", "name"), sorted(set(cited())))
def test_what_theory_names_exists(path: str, name: str) -> None:
    assert file_of(path).exists()
    if not name:
        return
    if path.startswith("tests/"):
        code = ast.parse(file_of(path).read_text(encoding="utf-8"))
        assert name in {node.name for node in code.body if isinstance(node, ast.FunctionDef)}
        return
    found: object = module_of(path)
    for part in name.split("."):
        found = getattr(found, part)
    assert callable(found) or isinstance(found, property) or hasattr(found, "func")


def test_theory_speaks_of_every_module_that_works_something_out() -> None:
    named = {path for path, _ in cited()}
    for path in sorted((ROOT / "clearance" / "geometry").glob("*.py")):
        if path.stem != "__init__":
            assert f"geometry/{path.name}" in named


def numbers(text: str) -> set[str]:
    """Equation numbers, ranges too: "G1 to G3" is three."""
    found = set(re.findall(r"\bG\d+\b", text))
    for first, last in re.findall(r"\bG(\d+) to G(\d+)\b", text):
        found |= {f"G{number}" for number in range(int(first), int(last) + 1)}
    return found


def test_every_equation_number_of_the_code_is_in_theory() -> None:
    known = set(re.findall(r"^## (G\d+) ", text_of("theory.md"), re.MULTILINE))
    assert known == {f"G{number}" for number in range(1, 9)}
    code = [path for part in ("clearance", "catalog") for path in (ROOT / part).rglob("*.py")]
    used = set()
    for path in code:
        here = numbers(path.read_text(encoding="utf-8"))
        assert here <= known, path.name
        used |= here
    assert used == known


# --- names ----------------------------------------------------------------------------------------


def produced_checks() -> set[str]:
    """Every name under which the judge reports a check: the first argument of its columns."""
    found = set()
    for path in (ROOT / "clearance" / "judge").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Name)
                and node.func.id in ("CheckColumn", "plain_column")
            ):
                found |= {
                    it.value
                    for it in ast.walk(node.args[0])
                    if isinstance(it, ast.Constant) and isinstance(it.value, str)
                }
    return found


def test_every_check_has_its_row() -> None:
    assert produced_checks() == set(CHECKS)
    rows = set(re.findall(r"^\| `(\w+)` \|", text_of("nomenclature.md"), re.MULTILINE))
    assert produced_checks() <= rows


def test_every_verdict_is_named() -> None:
    for verdict in VERDICTS:
        assert f"`{verdict}`" in text_of("nomenclature.md")
        assert verdict in text_of("theory.md")


def columns() -> list[tuple[str, str]]:
    """Every column of the files that people write, with its file."""
    known = {
        "cars.csv": cars_csv.COLUMNS,
        "blocks.csv": ("car", "name", "frame", *blocks_csv.LENGTHS),
        "frames.csv": frames_csv.COLUMNS,
        "survey.csv": survey_csv.COLUMNS,
    }
    return [(file, column) for file, its in known.items() for column in its]


def keys() -> list[tuple[str, str]]:
    """Every key of helix.toml, with its table."""
    records = {
        "helix.toml": Helix,
        "[[tracks]]": Track,
        "[deck]": Deck,
        "[posts]": Posts,
        "[allowance]": Allowance,
        "[adjusters]": Adjusters,
        "[[obstacles]]": Obstacle,
        "[[profile]]": ProfilePoint,
        "[[leads]]": Lead,
        "[recovery]": Recovery,
        "[stringers]": Stringers,
    }
    tables = {name.strip("[]") for name in records}
    return [
        (table, field.removesuffix("_mm"))
        for table, record in records.items()
        for field in record.model_fields
        if field not in tables
    ]


@cache
def file_rows() -> dict[str, str]:
    """What the rows of each file say in nomenclature.md, by the file or table."""
    part = text_of("nomenclature.md").split("## Files")[1].split("\n## ")[0]
    rows: dict[str, str] = {}
    name = ""
    for first, named in re.findall(r"^\| ([^|]*)\| ([^|]*)\|", part, re.MULTILINE):
        name = first.strip(" `") or name
        rows[name] = rows.get(name, "") + named
    return rows


@pytest.mark.parametrize(("file", "column"), [*columns(), *keys()])
def test_every_column_and_key_has_its_unit(file: str, column: str) -> None:
    assert f"`{column}`" in file_rows()[file]


@pytest.mark.parametrize(("file", "column"), [*columns(), *keys()])
def test_every_column_and_key_is_explained(file: str, column: str) -> None:
    """In formats.md: in the part about its file, as a word."""
    title = f"## {'helix.toml' if '[' in file else file}\n"
    part = text_of("formats.md").split(title)[1].split("\n## ")[0]
    assert re.search(rf"\b{column}\b", part)


def test_nomenclature_names_no_column_that_is_not_there() -> None:
    known: dict[str, set[str]] = {}
    for file, column in [*columns(), *keys()]:
        known.setdefault(file, set()).add(column)
    for file, named in file_rows().items():
        if file in known:
            extra = set(re.findall(r"`(\w+)`", named)) - known[file] - {"diameter", "none"}
            assert not extra, file
