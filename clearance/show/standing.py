"""What a helix is judged by, as every result says it: the design, or a survey of how it stands."""

from collections.abc import Sequence
from datetime import date
from typing import Any, NamedTuple

from catalog.helix import Helix
from catalog.survey import Survey, not_surveyed
from clearance.judge.allowance import MONTH_DAYS, survey_intervals
from clearance.judge.places import whole
from clearance.show.paper import Paper, line
from clearance.show.plain import plain
from clearance.show.words import day_words

__all__ = ["Standing", "remark_lines"]


class Standing(NamedTuple):
    """A helix, and the survey it is judged by; None: as designed.

    Attributes
    ----------
    helix, survey
        The design, and what was measured.
    taken_on
        When; None: nobody wrote it down.
    source
        Where the survey comes from: a file, or "catalog".
    remarks
        What is doubtful about it.
    as_of
        The day that was asked about; None: today.
    """

    helix: Helix
    survey: Survey | None = None
    taken_on: date | None = None
    source: str = ""
    remarks: tuple[str, ...] = ()
    as_of: date | None = None

    @property
    def rests_on(self) -> str:
        """What a result rests on, in few words."""
        if self.survey is None:
            return "the helix as drawn"
        if self.taken_on is None:
            return "a survey without a date"
        return f"the survey of {day_words(self.taken_on)}"

    @property
    def lines(self) -> Paper:
        """What to know about it below a text; nothing where it is simply as drawn."""
        if self.survey is not None:
            where = "" if self.source == "catalog" else f" ({plain(self.source)})"
            return [
                line(f"Judged by {self.rests_on}{where}."),
                *self._overdue(),
                *remark_lines(self.remarks),
            ]
        if self.as_of is not None:
            day = day_words(self.as_of)
            return [line(f"Judged as drawn: there was no survey yet on {day}.")]
        return []

    def _overdue(self) -> Paper:
        """That a new survey is due, and what that costs; nothing while it is not."""
        intervals = survey_intervals(self.helix, self.survey)
        if intervals == 1.0 or self.survey is None:
            return []
        months = self.survey.age_days / MONTH_DAYS
        words = (
            f"It is {months:.0f} months old and was due after {months / intervals:g}: settlement "
            f"counts {intervals:.1f} times."
        )
        return [line(words, indent=2)]

    @property
    def data(self) -> dict[str, Any] | None:
        """The same as JSON; None: as designed."""
        if self.survey is None:
            return None
        missing = {
            track.name: not_surveyed(self.survey, self.helix, track.name)
            for track in self.helix.tracks
        }
        return {
            "taken_on": None if self.taken_on is None else self.taken_on.isoformat(),
            "source": self.source,
            "age_days": self.survey.age_days,
            "overdue": survey_intervals(self.helix, self.survey) > 1.0,
            "remarks": list(self.remarks),
            "not_surveyed": {
                track: {
                    "railhead": [whole(station) for station in railheads],
                    "headroom": [whole(station) for station in headrooms],
                }
                for track, (railheads, headrooms) in missing.items()
            },
        }


def remark_lines(remarks: Sequence[str]) -> Paper:
    """What is doubtful about a survey, a paragraph each."""
    return [line(f"{plain(words[:1].upper() + words[1:])}.", indent=2) for words in remarks]
