"""What stands over and under everything that is posted: helix, date, rule, caution."""

from datetime import date

from catalog.helix import Helix
from clearance.show import cautions
from clearance.show.plain import plain

__all__ = ["roster_heading", "roster_notes"]


def roster_heading(helix: Helix) -> str:
    """The line over a roster. It rests on the helix as drawn, and says so."""
    day = date.today()
    return f"{plain(helix.name)}: roster of {day.day} {day:%B %Y}, for the helix as drawn"


def roster_notes() -> dict[str, str]:
    """The same for programs: the date, what the roster rests on, the rule and the caution."""
    return {
        "date": date.today().isoformat(),
        "rests_on": "the helix as drawn",
        "rule": cautions.RULE,
        "caution": cautions.RUNNING,
    }
