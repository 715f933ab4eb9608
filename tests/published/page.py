"""docs/checks.md: every published check as a page, from what the tests compared.

Numbers are rounded so that the page is the same on every computer: a difference to two digits, and
never finer than the sixth digit of what was compared, for what lies beyond is rounding; halves
always away from 0.
"""

import inspect
import math
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from decimal import Decimal

from tabulate import tabulate

from tests.published.record import Section, Source, Value, Work

__all__ = ["page"]

_LONG_COLUMN = 10  # with more values than this a column becomes one line
_LARGE_TABLE = 40  # of all that one test compares; then each column does
_SAME = 1e-6  # how far along differences lie is told apart by no less; of equals the first counts
_ROUNDING = 1e-9  # a tolerance as small as this leaves room for rounding alone
_DIGITS = 6
_PAST_A_TIE = 0.02  # of the finest digit: so much is added, or a half would go either way

_OPENING = """\
# Published checks

Values that somebody else has published, beside the engine's own. The tests of `tests/published`
compare them whenever the suite runs and write this page, and another test fails where it is out of
date. To refresh it:

    pytest --write-checks -n 0

Each source says how it is **known**: *seen* (printed there, or in a copy of it), *seen at second
hand* (printed by somebody who quotes it), *from memory* (not seen), or *common practice, no
source*. In a line, "by hand" means that no source prints the value and it was worked by hand from
what is printed; "from memory" that it was remembered beside others that were seen.

**Difference** is ours less printed; **allowed** is what the test lets it be, most often half of the
last printed digit (where it is more, the source's notes or the test say why). A long column, and
every column of a large table, is one line: how many values, and the one that comes nearest to what
is allowed. Misprints are kept as printed, with the reason why they are held for misprints.
"""


def page(sections: Sequence[Section]) -> str:
    """The whole page, a chapter a source.

    Raises
    ------
    ValueError
        A module says where its values are from, and compares none.
    """
    parts = [_OPENING, "## Contents", _contents(sections)]
    for section in sections:
        parts += _chapter(section)
    return "\n\n".join(part.strip("\n") for part in parts) + "\n"


def _contents(sections: Sequence[Section]) -> str:
    rows = []
    for section in sections:
        name = _source(section).name
        known = dict.fromkeys(work.known for work in _source(section).works)
        rows.append([f"[{name}](#{_anchor(name)})", "; ".join(known), len(section.values)])
    total = sum(len(section.values) for section in sections)
    rows.append([f"{len(sections)} sources", "", total])
    return tabulate(
        rows, ["source", "known", "comparisons"], "pipe", colalign=("left", "left", "right")
    )


def _anchor(heading: str) -> str:
    """What GitHub and its like link to."""
    return re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")


def _source(section: Section) -> Source:
    source = section.module.SOURCE
    assert isinstance(source, Source), section.module.__name__
    return source


def _chapter(section: Section) -> list[str]:
    source = _source(section)
    name = section.module.__name__.rpartition(".")[2]
    if not section.values:
        raise ValueError(f"{name} names a source, and compares nothing with it")
    parts = [f"## {source.name}", inspect.cleandoc(section.module.__doc__ or "")]
    parts.append("Sources:" if len(source.works) > 1 else "Source:")
    parts.append(_listed(_bibliography(work) for work in source.works))
    if source.misprints:
        parts += ["Misprints and oddities:", _listed(source.misprints)]
    heads = ["what", "printed", "ours", "difference", "allowed", "test"]
    sides = ("left", "right", "right", "right", "left", "left")
    rows = _rows(section.values)
    parts.append(tabulate(rows, heads, "pipe", colalign=sides, disable_numparse=True))
    parts.append(f"Tests: [{name}.py](../tests/published/{name}.py)")
    return parts


def _listed(points: Iterable[str]) -> str:
    return "\n".join(f"- {point}" for point in points)


def _bibliography(work: Work) -> str:
    """The record, how it is known, where it was read."""
    links = ", ".join(f"<{link}>" for link in work.links)
    return f"{work.record}. *{work.known.capitalize()}.* {links}".rstrip()


def _rows(values: Sequence[Value]) -> list[list[str]]:
    columns: dict[tuple[object, ...], list[Value]] = {}
    compared = Counter(value.test for value in values)
    for value in values:
        key = (value.test, value.what, value.unit, value.sense, value.relative)
        columns.setdefault(key, []).append(value)
    rows = []
    for column in columns.values():
        if len(column) > _LONG_COLUMN or compared[column[0].test] > _LARGE_TABLE:
            rows.append(_line(_nearest(column), len(column)))
        else:
            rows += [_line(value) for value in column]
    return [[cell.replace("|", r"\|") for cell in row] for row in rows]


def _nearest(column: Sequence[Value]) -> Value:
    """The value that comes nearest to what is allowed; of equals the first."""
    best, reached = column[0], -math.inf
    for value in column:
        how_far = _how_far(value)
        if how_far > reached + _SAME:
            best, reached = value, how_far
    return best


def _how_far(value: Value) -> float:
    """How much of what is allowed is used; of one-sided ones, how little room is left."""
    if isinstance(value.printed, str) or value.sense == "exactly":
        return 0.0
    difference = float(_difference(value))
    if value.sense == "within":
        return abs(difference) / _allowed(value)
    return -abs(difference) / max(abs(value.printed), 1.0)


def _line(value: Value, of: int = 1) -> list[str]:
    what = value.what
    if of > 1:
        what += f": {of} values"
        if value.cell and _how_far(value):
            what += f", nearest at {value.cell}"
    elif value.cell:
        what += f": {value.cell}"
    if value.where:
        what += f" ({value.where})"
    test = f"`{value.test}`"
    if isinstance(value.printed, str) or isinstance(value.ours, str):
        return [what, str(value.printed), str(value.ours), "", value.sense, test]
    difference = _difference(value)
    shown = f"{difference:+f}" if difference else "0"
    printed = _printed(value) + (f" {value.unit}" if value.unit else "")
    return [what, printed, _ours(value, difference), shown, _limit(value), test]


# --- numbers --------------------------------------------------------------------------------------


def _plain(number: float) -> str:
    """A number as people write it: no more digits than it has, no power of ten."""
    return f"{Decimal(f'{number:.10g}'):f}"


def _decimals(text: str) -> int:
    return len(text.partition(".")[2])


def _finest(value: Value) -> int:
    """Decimals beyond which is rounding."""
    size = max(abs(value.printed), abs(value.ours), 1.0)
    return max(_DIGITS - math.floor(math.log10(size)), 0)


def _rounded(number: float, decimals: int, value: Value) -> Decimal:
    past = math.copysign(_PAST_A_TIE / 10 ** _finest(value), number)
    # + 0 makes a 0 of a -0.
    return round(Decimal(number + past), decimals) + 0


def _printed(value: Value) -> str:
    """What is printed; where a formula is printed and this is its value, no further than ours."""
    plain = _plain(value.printed)
    if _decimals(plain) <= _finest(value):
        return plain
    return f"{_rounded(value.printed, _finest(value), value):f}"


def _difference(value: Value) -> Decimal:
    """Ours less printed, to two digits."""
    difference = value.ours - value.printed
    digits = Decimal(f"{difference:.1e}").as_tuple().exponent if difference else 0
    return _rounded(difference, min(max(-digits, 0), _finest(value)), value)


def _ours(value: Value, difference: Decimal) -> str:
    """Our value, to the last digit of the difference and of what is printed at the least."""
    decimals = _decimals(_printed(value))
    if difference:
        decimals = max(decimals, _decimals(f"{difference:f}"))
    return f"{_rounded(value.ours, min(decimals, _finest(value)), value):f}"


def _allowed(value: Value) -> float:
    return value.allowed * abs(value.printed) if value.relative else value.allowed


def _limit(value: Value) -> str:
    """What is allowed, in words."""
    if value.sense != "within":
        return value.sense
    if value.relative:
        if value.allowed < _ROUNDING:
            return "rounding"
        return f"± {_plain(float(f'{100 * value.allowed:.2g}'))} %"
    if value.allowed < _ROUNDING * max(abs(value.printed), 1.0):
        return "rounding"
    return f"± {_plain(float(f'{value.allowed:.3g}'))}"
