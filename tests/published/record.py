"""What the published checks compared: kept as they run, for docs/checks.md.

A module of tests/published says in `SOURCE` where its values were printed, and compares them
through the fixture `matches`, which asserts and keeps what it asserted. The page is written by

    pytest --write-checks -n 0

and `tests/test_checks_page.py` fails where docs/checks.md is not what that would write.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from numpy.typing import ArrayLike

__all__ = [
    "BY_HAND",
    "MEMORY",
    "PAGE",
    "PRACTICE",
    "SECOND_HAND",
    "SEEN",
    "Matches",
    "Section",
    "Source",
    "Value",
    "Work",
]

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "checks.md"

SEEN = "seen"
SECOND_HAND = "seen at second hand"
MEMORY = "from memory"
PRACTICE = "common practice, no source"

BY_HAND = "by hand"
"""Where a value is from that no source prints: worked by hand from what it does print."""

_SENSES = {
    "at least": np.greater_equal,
    "at most": np.less_equal,
    "more than": np.greater,
    "less than": np.less,
}


@dataclass(frozen=True)
class Work:
    """One publication: its full record, how it is known, and where it was read."""

    record: str
    known: str
    links: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        assert self.known in (SEEN, SECOND_HAND, MEMORY, PRACTICE), self.known


@dataclass(frozen=True)
class Source:
    """What a module's values are from: a heading, the works, and what they misprint, with why."""

    name: str
    works: tuple[Work, ...]
    misprints: tuple[str, ...] = ()


@dataclass(frozen=True)
class Value:
    """One value that was compared.

    ``sense`` is "within", "exactly", or one of the one-sided ones; ``allowed`` what the difference
    may be, as a number or (``relative``) as a share of what is printed.
    """

    test: str
    what: str
    where: str
    cell: str
    unit: str
    sense: str
    printed: float | str
    ours: float | str
    allowed: float = 0.0
    relative: bool = False


@dataclass
class Section:
    """What one module compared."""

    module: ModuleType
    values: list[Value] = field(default_factory=list)


class Matches:
    """Compare what the engine says with what is printed; keep what was compared.

    Every way of asking takes ``what`` was worked out, ``ours``, what is ``printed`` and the
    ``unit``; ``where`` it is printed (`BY_HAND`, `MEMORY`: it is not), and the ``cell`` of the
    table, one for each value where they are several.
    """

    def __init__(self, test: str) -> None:
        self.test = test
        self.values: list[Value] = []

    def __call__(
        self,
        what: str,
        ours: ArrayLike,
        printed: ArrayLike,
        within: ArrayLike | None = None,
        unit: str = "mm",
        *,
        share: float | None = None,
        where: str = "",
        cell: str | Sequence[str] = "",
    ) -> None:
        """Both agree ``within`` so much, or within a ``share`` of what is printed; one of the two.

        Arrays compare value by value; nan agrees with nothing.
        """
        assert (within is None) != (share is None), "say within what, or what share; one of them"
        found, given = _side_by_side(ours, printed)
        if share is not None:
            allowed = np.full(given.shape, share)
            assert_allclose(found, given, rtol=share, equal_nan=False, err_msg=f"{what} {cell}")
        else:
            allowed = np.broadcast_to(np.asarray(within, float), given.shape)
            for mine, theirs, limit in zip(found.flat, given.flat, allowed.flat, strict=True):
                told = f"{what} {cell}, {unit}"
                assert_allclose(mine, theirs, rtol=0, atol=limit, equal_nan=False, err_msg=told)
        self._keep(what, where, cell, unit, "within", given, found, allowed, share is not None)

    def exactly(
        self,
        what: str,
        ours: Any,
        printed: Any,
        unit: str = "",
        *,
        where: str = "",
        cell: str | Sequence[str] = "",
    ) -> None:
        """Both are equal: numbers to the last bit, or texts."""
        found, given = np.asarray(ours), np.asarray(printed)
        assert found.size == given.size > 0
        assert_array_equal(found, given, err_msg=f"{what} {cell}")
        self._keep(what, where, cell, unit, "exactly", given, found, np.zeros(given.shape))

    def at_least(self, what: str, ours: ArrayLike, printed: ArrayLike, **more: Any) -> None:
        """Ours is no less than what is printed."""
        self._one_sided("at least", what, ours, printed, **more)

    def at_most(self, what: str, ours: ArrayLike, printed: ArrayLike, **more: Any) -> None:
        """Ours is no more than what is printed."""
        self._one_sided("at most", what, ours, printed, **more)

    def more_than(self, what: str, ours: ArrayLike, printed: ArrayLike, **more: Any) -> None:
        """Ours is more than what is printed."""
        self._one_sided("more than", what, ours, printed, **more)

    def less_than(self, what: str, ours: ArrayLike, printed: ArrayLike, **more: Any) -> None:
        """Ours is less than what is printed."""
        self._one_sided("less than", what, ours, printed, **more)

    def _one_sided(
        self,
        sense: str,
        what: str,
        ours: ArrayLike,
        printed: ArrayLike,
        *,
        unit: str = "mm",
        where: str = "",
        cell: str | Sequence[str] = "",
    ) -> None:
        found, given = _side_by_side(ours, printed)
        # What is not a number is neither more nor less.
        wrong = ~_SENSES[sense](found, given)
        assert not wrong.any(), f"{what} {cell}: {found[wrong]} is not {sense} {given[wrong]}"
        self._keep(what, where, cell, unit, sense, given, found, np.zeros(given.shape))

    def _keep(
        self,
        what: str,
        where: str,
        cell: str | Sequence[str],
        unit: str,
        sense: str,
        printed: np.ndarray,
        ours: np.ndarray,
        allowed: np.ndarray,
        relative: bool = False,
    ) -> None:
        cells = [cell] * ours.size if isinstance(cell, str) else [str(one) for one in cell]
        assert len(cells) == ours.size, f"{what}: {ours.size} values, {len(cells)} cells"
        sides = zip(cells, printed.ravel().tolist(), ours.ravel().tolist(), strict=True)
        for (one, theirs, mine), limit in zip(sides, allowed.ravel().tolist(), strict=True):
            self.values.append(
                Value(
                    self.test, what, where, one, unit, sense, theirs, mine, limit, relative=relative
                )
            )


def _side_by_side(ours: ArrayLike, printed: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    """Both as numbers of one shape; one may be a single number, but no table is multiplied."""
    found, given = np.asarray(ours, float), np.asarray(printed, float)
    both = np.broadcast_arrays(found, given)
    assert both[0].size == max(found.size, given.size) > 0, (found.shape, given.shape)
    return both[0], both[1]


# --- while the tests run --------------------------------------------------------------------------

_COMPARED = pytest.StashKey[Matches]()
_SECTIONS = pytest.StashKey[dict[str, Section]]()
_LEFT_OUT = pytest.StashKey[list[str]]()


@pytest.fixture
def matches(request: pytest.FixtureRequest) -> Matches:
    """Compare with what is printed, and keep it for docs/checks.md."""
    item = request.node
    item.stash[_COMPARED] = Matches(item.originalname)
    return item.stash[_COMPARED]


def pytest_addoption(parser: pytest.Parser) -> None:
    group = parser.getgroup("published checks")
    group.addoption(
        "--write-checks",
        action="store_true",
        help="run tests/published and write docs/checks.md from it; with -n 0",
    )
    group.addoption(
        "--checks-file", type=Path, default=PAGE, help="where --write-checks writes instead"
    )


def pytest_configure(config: pytest.Config) -> None:
    config.stash[_SECTIONS] = {}
    config.stash[_LEFT_OUT] = []
    if config.getoption("write_checks"):
        if config.getoption("numprocesses", None):
            raise pytest.UsageError("--write-checks reads what one process compared: add -n 0")
        config.args[:] = [str(Path(__file__).parent)]


def pytest_deselected(items: Sequence[pytest.Item]) -> None:
    for item in items:
        item.config.stash[_LEFT_OUT].append(item.nodeid)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Iterator[Any]:
    report = yield
    module = getattr(item, "module", None)
    if call.when == "call" and hasattr(module, "SOURCE"):
        section = item.config.stash[_SECTIONS].setdefault(item.path.name, Section(module))
        if report.passed and _COMPARED in item.stash:
            section.values += item.stash[_COMPARED].values
    return report


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    config = session.config
    if not config.getoption("write_checks") or exitstatus != pytest.ExitCode.OK:
        return
    left_out = config.stash[_LEFT_OUT]
    if left_out:
        pytest.exit(f"docs/checks.md needs every published check; {left_out[0]} was left out", 4)
    from tests.published.page import page  # tabulate is for this alone

    sections = config.stash[_SECTIONS]
    text = page([sections[name] for name in sorted(sections)])
    config.getoption("checks_file").write_text(text, encoding="utf-8", newline="\n")
