"""What a helix is judged by, as every result says it: the design, or a survey of how it stands."""

from collections.abc import Sequence
from datetime import date
from typing import Any, NamedTuple

from catalog.helix import Helix
from catalog.survey import Survey, not_surveyed
from catalog.survey_fit import holes
from clearance.judge.allowance import MONTH_DAYS, survey_intervals
from clearance.judge.places import whole
from clearance.show.paper import Paper, line
from clearance.show.plain import plain
from clearance.show.words import counted, day_words

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
                *self._doubts(),
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

    def _doubts(self) -> Paper:
        """What is doubtful in full; of what was not surveyed only how much that is."""
        assert self.survey is not None
        left_out = holes(self.survey, self.helix)
        missing = self._not_surveyed.values()
        counts = [len({station for kinds in missing for station in kinds[k]}) for k in (0, 1)]
        parts = [
            f"the {what} at {counted(count, 'place')}"
            for what, count in zip(("railhead", "headroom"), counts, strict=True)
            if count
        ]
        which = "'clearance helix survey'" if self.source == "catalog" else "--json"
        words = f"Not surveyed: {' and '.join(parts)}; {which} tells where."
        return [
            *remark_lines([remark for remark in self.remarks if remark not in left_out]),
            *([line(words, indent=2)] if parts else []),
        ]

    @property
    def _not_surveyed(self) -> dict[str, tuple[list[float], list[float]]]:
        """By track, the stations whose railhead was not measured, and whose headroom was not."""
        return {
            track.name: not_surveyed(self.survey, self.helix, track.name)
            for track in self.helix.tracks
        }

    @property
    def data(self) -> dict[str, Any] | None:
        """The same as JSON; None: as designed."""
        if self.survey is None:
            return None
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
                for track, (railheads, headrooms) in self._not_surveyed.items()
            },
        }


def remark_lines(remarks: Sequence[str]) -> Paper:
    """What is doubtful about a survey, a paragraph each."""
    return [line(f"{plain(words[:1].upper() + words[1:])}.", indent=2) for words in remarks]
