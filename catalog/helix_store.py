"""Helices and their surveys in an open catalog.

Surveys belong to the helix, whichever version of its design stands: each is kept for good, and
`HelixStore.survey` gives the one that stood on a day.
"""

from datetime import date
from typing import Literal

from sqlalchemy import Connection

from catalog.clock import refuse_future, today
from catalog.database import Opened
from catalog.errors import DataError
from catalog.helix import Helix
from catalog.helix_rows import StoredHelix, helix_of, read_helices, write_helix
from catalog.history import note_change, refuse_same_state
from catalog.survey import Survey
from catalog.survey_fit import fit_survey
from catalog.survey_rows import StoredSurvey, approve_survey, read_surveys, write_survey
from catalog.words import did_you_mean, quoted

__all__ = ["HelixChange", "HelixStore", "SurveyChange"]

HelixChange = Literal["added", "changed", "unchanged"]
"""What adding a helix did."""

SurveyChange = Literal["added", "approved", "unchanged"]
"""What adding a survey did."""


class HelixStore(Opened):
    """The helices of an open catalog, and what was surveyed on them."""

    def add_helix(self, helix: Helix, *, who: str | None = None) -> HelixChange:
        """Add a helix, or make it the next version of the one with its name.

        Its surveys stay.

        Returns
        -------
        str
            "added", "changed" (the version before is kept; a retired helix comes back), or
            "unchanged" where an equal one is in use.

        Raises
        ------
        StoreError
            The database cannot do it; nothing was stored.
        """
        with self._changing() as connection:
            stored = {row.name: row for row in read_helices(connection)}.get(helix.name)
            if stored and stored.is_the_same_as(helix):
                return "unchanged"
            change = note_change(
                connection, "add helix", who, added=not stored, changed=bool(stored)
            )
            document = helix.model_dump_json()
            write_helix(connection, helix.name, document, stored, change, retired=False)
        return "changed" if stored else "added"

    def helices(self, *, include_retired: bool = False) -> list[Helix]:
        """Read the helices, in the order in which they came.

        Raises
        ------
        StoreError
            The catalog is damaged.
        """
        with self._reading() as connection:
            rows = read_helices(connection)
            return [helix_of(connection, row) for row in rows if include_retired or not row.retired]

    def helix(self, name: str) -> Helix:
        """Read one helix, retired or not.

        Raises
        ------
        DataError
            There is no such helix; the sentence names the nearest.
        StoreError
            The catalog is damaged.
        """
        with self._reading() as connection:
            return helix_of(connection, _helix(connection, name))

    def retire_helix(self, name: str, *, who: str | None = None) -> None:
        """Leave a helix out of lists; it stays in the catalog, with its surveys.

        Raises
        ------
        DataError
            There is no such helix, or it is retired already.
        """
        self._set_helix_retired(name, True, who)

    def restore_helix(self, name: str, *, who: str | None = None) -> None:
        """Bring a retired helix back.

        Raises
        ------
        DataError
            There is no such helix, or it is not retired.
        """
        self._set_helix_retired(name, False, who)

    def add_survey(
        self, helix: str, survey: Survey, *, approve: bool = False, who: str | None = None
    ) -> SurveyChange:
        """Keep a survey of a helix, beside those that were taken before.

        It holds from the day it was taken on, or, where it does not say, from today.

        Parameters
        ----------
        helix
            The name of the helix.
        survey
            What was measured.
        approve
            True: the helix is approved as this survey found it. A mark once given stays.
        who
            Who does it; None: the login name.

        Returns
        -------
        str
            "added", or "unchanged": it is kept already with its date, or, without one, it is the
            survey that stands; "approved": the same, but it has the mark only now.

        Raises
        ------
        DataError
            There is no such helix, `fit_survey` says that it cannot be a survey of this one, or it
            is dated in the future.
        StoreError
            The database cannot do it; nothing was stored.
        """
        with self._changing() as connection:
            stored = _helix(connection, helix)
            fit_survey(survey, helix_of(connection, stored))
            refuse_future(survey)
            before = read_surveys(connection, stored.number)
            # Of one day the last one holds: who puts right what went wrong may say it once more.
            kept = [row for row in before if survey.taken_on in (None, row.taken_on)][-1:]
            same = [row for row in kept if row.survey == survey]
            if same and (same[-1].is_approved or not approve):
                return "unchanged"
            if same:
                change = note_change(connection, "approve survey", who, changed=1)
                approve_survey(connection, same[-1].number, change)
                return "approved"
            change = note_change(connection, "add survey", who, added=1)
            taken_on = survey.taken_on or today()
            write_survey(connection, stored.number, survey, taken_on, change, approved=approve)
        return "added"

    def surveys(self, helix: str) -> list[StoredSurvey]:
        """All surveys of a helix, the oldest first; those of one day in the order they came.

        Raises
        ------
        DataError
            There is no such helix.
        StoreError
            The catalog is damaged.
        """
        with self._reading() as connection:
            return read_surveys(connection, _helix(connection, helix).number)

    def survey(self, helix: str, as_of: date | None = None) -> StoredSurvey | None:
        """The survey of a helix that stood on a day; None: there was none yet.

        Parameters
        ----------
        helix
            The name of the helix.
        as_of
            The end of this day; None: today.

        Raises
        ------
        DataError
            There is no such helix.
        StoreError
            The catalog is damaged.
        """
        rows = self.surveys(helix)
        stood = [row for row in rows if row.taken_on <= (as_of or today())]
        return stood[-1] if stood else None

    def _set_helix_retired(self, name: str, retired: bool, who: str | None) -> None:
        with self._changing() as connection:
            stored = _helix(connection, name)
            refuse_same_state(f"helix {quoted(name)}", stored.retired, retired)
            what = "retire helix" if retired else "restore helix"
            change = note_change(connection, what, who, changed=1)
            write_helix(connection, name, stored.document, stored, change, retired=retired)


def _helix(connection: Connection, name: str) -> StoredHelix:
    rows = {row.name: row for row in read_helices(connection)}
    if name not in rows:
        raise DataError(
            f"there is no helix {quoted(name)} in the catalog; {did_you_mean(name, rows)}"
        )
    return rows[name]
