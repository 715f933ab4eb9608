"""The clearance gauge of each track, as text and JSON."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any

from catalog.lengths import show_length, show_mm
from clearance.judge.clearance_gauge import MEET, Band, ClearanceGauge
from clearance.show.data import figure_mm
from clearance.show.paper import Line, Paper, Span, grid, line
from clearance.show.plain import plain
from clearance.show.words import CHECKS, listed

__all__ = ["gauges_data", "gauges_text"]


def gauges_text(gauges: Sequence[ClearanceGauge]) -> Paper:
    """The opening of each frame, half width by height, and what it tells and does not."""
    paper: Paper = []
    for gauge in gauges:
        paper += [
            line(
                Span(f"Clearance gauge, {plain(gauge.track)} track", "bold"),
                ": a rigid frame over straight level track, ",
                Span(show_length(gauge.height_mm, "down"), "bold"),
                " high inside",
            ),
            grid(("  over the railhead", "left", "right"), map(_row, reversed(gauge.bands))),
            *(line(words, indent=2) for words in _words(gauge)),
            line(),
        ]
    return paper


def _row(band: Band) -> tuple[str | Line, ...]:
    between = f"  {show_mm(band.bottom_mm)} to {show_mm(band.top_mm)}"
    return between, _half(band.left_mm), _half(band.right_mm)


def _half(width_mm: float | None) -> str:
    return "open" if width_mm is None else show_length(width_mm, "down")


def _words(gauge: ClearanceGauge) -> Iterator[str]:
    yield "Left and right are half widths from the middle of the track, seen uphill."
    for side in gauge.not_said:
        yield f"What stands on the {side} nobody said; the frame leaves that side open."
    yield _cars("Goes through", gauge.goes_through, 12)
    ways: dict[str, list[str]] = defaultdict(list)
    for car, way in gauge.one_way.items():
        ways[way].append(car)
    for way, cars in ways.items():
        yield _cars(f"Goes through with its {way} only", cars)
    yield _cars("Stopped", gauge.stops)
    yield _cars("Stopped needlessly", gauge.stops_needlessly)
    if not gauge.cannot_judge:
        yield "Cannot judge: none."
        return
    reasons: dict[tuple[str, ...], list[str]] = defaultdict(list)
    for car, why in gauge.cannot_judge.items():
        reasons[tuple(why)].append(car)
    told = "; ".join(
        f"{' and '.join(map(_reason, why))}: {listed(cars)}" for why, cars in reasons.items()
    )
    yield (f"Cannot judge ({len(gauge.cannot_judge)}), for it knows nothing of the curve: {told}.")


def _reason(check: str) -> str:
    return "meets" if check == MEET else CHECKS[check].lower()


def _cars(what: str, ids: list[str], most: int | None = None) -> str:
    return f"{what} ({len(ids)}): {listed(ids, most)}." if ids else f"{what}: none."


def gauges_data(gauges: Sequence[ClearanceGauge]) -> list[dict[str, Any]]:
    """What `telltales --gauge` adds to the JSON."""
    return [
        {
            "track": gauge.track,
            "height_mm": gauge.height_mm,
            "bands": [
                {
                    "bottom_mm": figure_mm(band.bottom_mm),
                    "top_mm": figure_mm(band.top_mm),
                    "left_mm": figure_mm(band.left_mm),
                    "right_mm": figure_mm(band.right_mm),
                }
                for band in gauge.bands
            ],
            "not_said": gauge.not_said,
            "goes_through": gauge.goes_through,
            "stops": gauge.stops,
            "one_way": gauge.one_way,
            "stops_needlessly": gauge.stops_needlessly,
            "cannot_judge": [
                {"car": car, "checks": why} for car, why in gauge.cannot_judge.items()
            ],
        }
        for gauge in gauges
    ]
