"""Surveys kept across runs: each for good, dated, and the one that stood on a day."""

import getpass
from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import catalog.clock
from catalog.errors import DataError
from catalog.helix import Deck, Helix, Track
from catalog.store import Catalog
from catalog.survey import Reading, Survey


def _helix(name: str = "quarry", rise_mm: float = 285.0) -> Helix:
    return Helix(
        name=name,
        gauge_mm=45.0,
        turns=2.5,
        rise_per_turn_mm=rise_mm,
        brackets_per_turn=12,
        tracks=(Track(name="inner", radius_mm=1190.0),),
        deck=Deck(depth_mm=38.0),
    )


def _survey(taken_on: date | None, railhead_mm: float = 71.0) -> Survey:
    return Survey(
        readings=(
            Reading(station=3, railhead_mm=railhead_mm, taken_on=taken_on, taken_by="Ann"),
            Reading(station=4.5, track="inner", headroom_mm=240.0),
        )
    )


SPRING, SUMMER, AUTUMN = date(2026, 4, 1), date(2026, 7, 1), date(2026, 10, 1)


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[Catalog]:
    """A catalog of one helix."""
    with Catalog.open(tmp_path / "catalog.sqlite", create=True) as opened:
        opened.add_helix(_helix())
        yield opened


@pytest.fixture
def today(monkeypatch: pytest.MonkeyPatch) -> list[date]:
    """A calendar: what stands last in it is today."""
    days = [SPRING]

    class Day(date):
        @classmethod
        def today(cls) -> "Day":
            return cls.fromisoformat(days[-1].isoformat())

    monkeypatch.setattr(catalog.clock, "date", Day)
    return days


def test_surveys_are_kept_across_runs_the_oldest_first(opened: Catalog) -> None:
    assert opened.surveys("quarry") == []
    assert opened.survey("quarry") is None
    for day, who in ((SUMMER, "Bob"), (SPRING, "Ann"), (AUTUMN, None)):
        assert opened.add_survey("quarry", _survey(day), who=who) == "added"
    with Catalog.open(opened.path, create=False) as again:
        kept = again.surveys("quarry")
    assert [row.survey for row in kept] == [_survey(day) for day in (SPRING, SUMMER, AUTUMN)]
    assert [row.taken_on for row in kept] == [SPRING, SUMMER, AUTUMN]
    assert [row.who for row in kept] == ["Ann", "Bob", getpass.getuser()]
    for row in kept:
        age = datetime.now().astimezone() - datetime.fromisoformat(row.added_at)
        assert 0 <= age.total_seconds() + 1 < 60


@pytest.mark.parametrize(
    ("as_of", "taken_on"),
    [
        (date(2026, 3, 31), None),
        (SPRING, SPRING),
        (date(2026, 6, 30), SPRING),
        (SUMMER, SUMMER),
        (date(2030, 1, 1), AUTUMN),
        (None, AUTUMN),
    ],
)
def test_the_survey_that_stood_then(
    opened: Catalog, as_of: date | None, taken_on: date | None
) -> None:
    for day in (AUTUMN, SPRING, SUMMER):
        opened.add_survey("quarry", _survey(day))
    stood = opened.survey("quarry", as_of)
    assert (stood.taken_on if stood else None) == taken_on


def test_of_two_of_one_day_the_later_one_stands(opened: Catalog) -> None:
    opened.add_survey("quarry", _survey(SPRING, 71.0))
    opened.add_survey("quarry", _survey(SPRING, 72.0))
    assert opened.survey("quarry", SPRING).survey == _survey(SPRING, 72.0)
    assert len(opened.surveys("quarry")) == 2


def test_the_right_one_given_again_after_a_wrong_one_of_the_same_day_stands(
    opened: Catalog,
) -> None:
    for railhead_mm in (71.0, 72.0, 71.0):
        assert opened.add_survey("quarry", _survey(SPRING, railhead_mm)) == "added"
    assert opened.survey("quarry", SPRING).survey == _survey(SPRING, 71.0)
    assert opened.add_survey("quarry", _survey(SPRING, 71.0)) == "unchanged"
    assert len(opened.surveys("quarry")) == 3


def test_a_survey_of_tomorrow_is_not_kept(opened: Catalog, today: list[date]) -> None:
    """A year mistyped would stand until then, whatever is measured meanwhile."""
    tomorrow = date(2026, 4, 2)
    with pytest.raises(DataError, match="2026-04-02 is in the future, for today is 2026-04-01"):
        opened.add_survey("quarry", _survey(tomorrow))
    assert opened.surveys("quarry") == []
    assert opened.add_survey("quarry", _survey(SPRING)) == "added"
    today.append(tomorrow)
    assert opened.add_survey("quarry", _survey(tomorrow, 72.0)) == "added"
    assert opened.survey("quarry").taken_on == tomorrow
    # A catalog from elsewhere, or a clock set back: of what is dated later nothing holds yet.
    today.append(SPRING)
    assert opened.survey("quarry").taken_on == SPRING
    assert opened.survey("quarry", tomorrow).taken_on == tomorrow


def test_the_very_same_survey_again_leaves_no_trace(opened: Catalog) -> None:
    opened.add_survey("quarry", _survey(SPRING))
    opened.add_survey("quarry", _survey(SUMMER))
    before = opened.path.read_bytes()
    assert opened.add_survey("quarry", _survey(SPRING)) == "unchanged"
    assert opened.path.read_bytes() == before
    assert opened.add_survey("quarry", _survey(SPRING, 71.5)) == "added"


def test_a_survey_without_a_date_holds_from_the_day_it_came(
    opened: Catalog, today: list[date]
) -> None:
    assert opened.add_survey("quarry", _survey(None)) == "added"
    today.append(SUMMER)
    assert opened.add_survey("quarry", _survey(None)) == "unchanged"
    assert opened.add_survey("quarry", _survey(None, 72.0)) == "added"
    today.append(AUTUMN)
    # It stands as it did in spring: that is news.
    assert opened.add_survey("quarry", _survey(None)) == "added"
    kept = [(row.taken_on, row.survey.readings[0].railhead_mm) for row in opened.surveys("quarry")]
    assert kept == [(SPRING, 71.0), (SUMMER, 72.0), (AUTUMN, 71.0)]


def test_a_survey_is_approved_as_it_comes(opened: Catalog) -> None:
    opened.add_survey("quarry", _survey(SPRING), who="Ann")
    opened.add_survey("quarry", _survey(SUMMER), approve=True, who="Bob")
    spring, summer = opened.surveys("quarry")
    assert (spring.is_approved, spring.approved_at, spring.approved_by) == (False, "", "")
    assert (summer.is_approved, summer.approved_by) == (True, "Bob")
    assert summer.approved_at == summer.added_at


def test_a_survey_is_approved_later_and_stays_so(opened: Catalog) -> None:
    """The mark is a change of its own; neither the survey nor who brought it is touched."""
    opened.add_survey("quarry", _survey(SPRING), who="Ann")
    opened.add_survey("quarry", _survey(SUMMER), who="Ann")
    (before, _) = opened.surveys("quarry")
    assert opened.add_survey("quarry", _survey(SPRING), approve=True, who="Bob") == "approved"
    spring, summer = opened.surveys("quarry")
    assert (spring.survey, spring.added_at, spring.who) == (before.survey, before.added_at, "Ann")
    assert (spring.is_approved, spring.approved_by, summer.is_approved) == (True, "Bob", False)
    kept = opened.path.read_bytes()
    for approve in (True, False):
        assert opened.add_survey("quarry", _survey(SPRING), approve=approve) == "unchanged"
    assert opened.path.read_bytes() == kept


def test_of_a_survey_without_a_date_the_one_that_stands_is_approved(
    opened: Catalog, today: list[date]
) -> None:
    opened.add_survey("quarry", _survey(None))
    today.append(SUMMER)
    assert opened.add_survey("quarry", _survey(None), approve=True) == "approved"
    assert [row.is_approved for row in opened.surveys("quarry")] == [True]


def test_surveys_survive_a_new_design_and_retirement(opened: Catalog) -> None:
    opened.add_survey("quarry", _survey(SPRING))
    assert opened.add_helix(_helix(rise_mm=290.0)) == "changed"
    opened.retire_helix("quarry")
    opened.add_helix(_helix("attic"))
    assert [row.survey for row in opened.surveys("quarry")] == [_survey(SPRING)]
    assert opened.surveys("attic") == []


def test_a_survey_that_cannot_be_is_not_kept(opened: Catalog) -> None:
    before = opened.path.read_bytes()
    with pytest.raises(DataError, match="it looks like inches read as millimetres"):
        opened.add_survey(
            "quarry", Survey(readings=(Reading(station=17, railhead_mm=403.75 / 25.4),))
        )
    with pytest.raises(DataError, match="there is no track 'outer'"):
        opened.add_survey(
            "quarry", Survey(readings=(Reading(station=17, track="outer", railhead_mm=400),))
        )
    assert opened.path.read_bytes() == before


def test_an_unknown_helix_is_answered_with_the_nearest(opened: Catalog) -> None:
    for ask in (
        lambda: opened.add_survey("qarry", _survey(SPRING)),
        lambda: opened.surveys("qarry"),
        lambda: opened.survey("qarry"),
    ):
        with pytest.raises(DataError, match="no helix 'qarry' in the catalog; did you mean 'quar"):
            ask()


@settings(max_examples=20)  # each writes a file
@given(
    st.lists(
        st.tuples(st.dates(max_value=AUTUMN), st.sampled_from([70.0, 71.0, 72.0])), max_size=6
    ),
    st.dates(),
)
def test_whatever_was_kept_the_latest_up_to_a_day_stands(
    tmp_path_factory: pytest.TempPathFactory, taken: list[tuple[date, float]], day: date
) -> None:
    path = tmp_path_factory.getbasetemp() / "surveys.sqlite"
    path.unlink(missing_ok=True)
    with Catalog.open(path, create=True) as opened:
        opened.add_helix(_helix())
        for taken_on, railhead in taken:
            opened.add_survey("quarry", _survey(taken_on, railhead))
        expected = None
        for taken_on, railhead in taken:
            if taken_on <= day and (expected is None or taken_on >= expected.taken_on):
                expected = _survey(taken_on, railhead)
        stood = opened.survey("quarry", day)
        assert (stood.survey if stood else None) == expected
