"""What is set out of a helix, and the sheet of its survey to fill in: text, JSON and rows."""

from collections.abc import Sequence
from typing import Any, Literal

from catalog.lengths import show_inches, show_length, show_mm
from clearance.judge.setting_out import Bracket, Circle, SettingOut, SheetRow
from clearance.show import cautions
from clearance.show.data import DIGITS, Row, figure_mm
from clearance.show.paper import Cell, Paper, Span, grid, line
from clearance.show.plain import plain

__all__ = [
    "setting_out_data",
    "setting_out_rows",
    "setting_out_text",
    "sheet_data",
    "sheet_rows",
    "sheet_text",
]

_BLANK = "_" * 9


def setting_out_text(found: SettingOut, *, inches: bool = False) -> Paper:
    """The circles, once; then a row a bracket, in mm or in ``inches``."""
    helix, shown = found.helix, show_inches if inches else show_mm
    circles: list[list[Cell]] = [
        [
            _circle(circle),
            Span(show_length(circle.radius_mm), "bold"),
            shown(2 * circle.radius_mm),
            show_length(circle.chord_mm),
        ]
        for circle in found.circles
    ]
    rows: list[list[Cell]] = [
        [
            f"{bracket.station}",
            f"{bracket.turn}",
            _degrees(bracket.angle_deg),
            Span(shown(bracket.railhead_mm), "bold"),
            "" if bracket.rise_mm is None else shown(bracket.rise_mm),
            shown(bracket.deck_mm),
            Span(shown(bracket.post_mm), "bold"),
            "" if bracket.headroom_mm is None else shown(bracket.headroom_mm, "down"),
        ]
        for bracket in found.brackets
    ]
    seat = "beam" if helix.deck.beam_depth_mm else "deck"
    if found.base_mm:
        ground = f"what the posts stand on, {show_length(found.base_mm)} below that zero"
    else:
        ground = "the same zero (say with --base how far below it the posts stand)"
    headers = ["bracket", "turn", "angle", "railhead", "to next", "deck", "post", "headroom"]
    return [
        line(Span(f"{plain(helix.name)}: setting out", "bold")),
        line(
            f"Climbs {helix.climbs}, seen from above; {helix.brackets_per_turn} brackets a turn, "
            f"one every {_degrees(found.step_deg)}. As drawn."
        ),
        line(),
        line(Span("Circles, all about one centre", "bold")),
        grid(["circle", "radius", "diameter", "chord to next bracket"], circles),
        line("Posts: to the face towards the track. Tracks: to the centreline.", indent=2),
        *([line(_no_posts(found), indent=2)] if _no_posts(found) else []),
        line(),
        line(Span("Brackets, up the helix", "bold")),
        grid(headers, rows),
        line(),
        line(
            "Railhead: above the zero of the helix file, from where station 0 would be with a "
            "regular climb. To next: its rise to the next bracket."
            if helix.profile
            else "Railhead: above that of bracket 0. To next: its rise to the next bracket."
        ),
        line("Deck: its underside, above the same zero."),
        line(f"Post: the underside of the {seat}, where it rests, above {ground}."),
        line(f"Headroom: from the railhead to the underside of the {seat} a turn above."),
        line(),
        line(f"Caution: {cautions.BUILDING}"),
    ]


def _circle(circle: Circle) -> str:
    return circle.kind if circle.kind != "track" else f"{plain(circle.name)} track"


def _no_posts(found: SettingOut) -> str:
    """Which posts are not set out, and why; "": none."""
    posts = found.helix.posts
    words = []
    for side, distance in (("inside", posts.inside_mm), ("outside", posts.outside_mm)):
        if distance == "none":
            words.append(f"Nothing stands {side}.")
        elif distance is None:
            words.append(
                f"The helix file does not say how far away the posts {side} are ([posts] {side})."
            )
    return " ".join(words)


def _degrees(angle_deg: float) -> str:
    return f"{angle_deg:.2f}".rstrip("0").rstrip(".") + "°"


def setting_out_data(found: SettingOut) -> dict[str, Any]:
    """The JSON of `helix setout`."""
    return {
        "helix": found.helix.name,
        "climbs": found.helix.climbs,
        "brackets_per_turn": found.helix.brackets_per_turn,
        "base_mm": figure_mm(found.base_mm),
        "circles": [
            {
                "kind": circle.kind,
                "track": circle.name,
                "radius_mm": figure_mm(circle.radius_mm),
                "chord_mm": figure_mm(circle.chord_mm),
            }
            for circle in found.circles
        ],
        "brackets": [_bracket(bracket) for bracket in found.brackets],
    }


def _bracket(bracket: Bracket) -> Row:
    return {
        "station": bracket.station,
        "turn": bracket.turn,
        "angle_deg": round(bracket.angle_deg, DIGITS),
        "railhead_mm": figure_mm(bracket.railhead_mm),
        "rise_mm": figure_mm(bracket.rise_mm),
        "deck_mm": figure_mm(bracket.deck_mm),
        "post_mm": figure_mm(bracket.post_mm),
        "headroom_mm": figure_mm(bracket.headroom_mm),
    }


def setting_out_rows(found: SettingOut) -> list[Row]:
    """A row a bracket and circle, for CSV; the last bracket has no chord to a next one."""
    return [
        _bracket(bracket)
        | {
            "circle": circle.kind,
            "track": circle.name,
            "radius_mm": figure_mm(circle.radius_mm),
            "chord_mm": None if bracket.rise_mm is None else figure_mm(circle.chord_mm),
        }
        for bracket in found.brackets
        for circle in found.circles
    ]


def sheet_text(helix: str, rows: Sequence[SheetRow], *, inches: bool = False) -> Paper:
    """The sheet to take along: what is drawn, in mm or in ``inches``, and a line to fill in."""
    shown = show_inches if inches else show_mm
    cells: list[list[Cell]] = [
        [
            f"{row.bracket.station}",
            f"{row.bracket.turn}",
            _degrees(row.bracket.angle_deg),
            plain(row.track),
            shown(row.bracket.railhead_mm),
            _BLANK,
            "" if row.bracket.headroom_mm is None else shown(row.bracket.headroom_mm, "down"),
            "" if row.bracket.headroom_mm is None else _BLANK,
        ]
        for row in rows
    ]
    headers = ["bracket", "turn", "angle", "track", "drawn", "railhead", "drawn", "headroom"]
    return [
        line(Span(f"{plain(helix)}: headroom survey", "bold")),
        line(),
        line("Taken on ____________  by ____________________  with ____________________"),
        line("Weather and season ______________________________________________________"),
        line(),
        grid(headers, cells),
        line(),
        line(
            "Railhead: with a level and a rod, from one zero all the way up. Headroom: from the "
            "railhead up to the underside of the beam, never from the floor. Leave blank what was "
            "not measured."
        ),
        line(
            "To type it in: clearance helix setout HELIX --sheet --format csv --output survey.csv; "
            "then clearance helix survey HELIX survey.csv."
        ),
        line(),
        line(f"Caution: {cautions.RUNNING}"),
    ]


def sheet_data(helix: str, rows: Sequence[SheetRow]) -> dict[str, Any]:
    """The places to measure, with what is drawn there, as JSON."""
    return {
        "helix": helix,
        "places": [
            {
                "station": row.bracket.station,
                "turn": row.bracket.turn,
                "angle_deg": round(row.bracket.angle_deg, DIGITS),
                "track": row.track,
                "railhead_mm": figure_mm(row.bracket.railhead_mm),
                "headroom_mm": figure_mm(row.bracket.headroom_mm),
            }
            for row in rows
        ],
    }


def sheet_rows(rows: Sequence[SheetRow], unit: Literal["mm", "in"] | None) -> list[Row]:
    """A survey.csv with blanks for what is measured; with a unit, its columns count in that."""
    suffix = f"_{unit}" if unit else ""
    return [
        {
            "station": row.bracket.station,
            "track": row.track,
            f"railhead{suffix}": "",
            f"headroom{suffix}": "",
            "taken_on": "",
            "taken_by": "",
        }
        for row in rows
    ]
