"""What holds for all tests."""

import os
from collections.abc import Iterator
from datetime import date

import pytest
from hypothesis import HealthCheck, settings

import catalog.clock

pytest_plugins = ["tests.published.record"]

# A busy machine is no failure. In CI the same cases are drawn each time; elsewhere always new ones.
settings.register_profile(
    "clearance",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=bool(os.environ.get("CI")),
)
settings.load_profile("clearance")


@pytest.fixture(scope="session", autouse=True)
def _one_day() -> Iterator[None]:
    """Whenever the tests are run, for the program it is one day: its surveys are never overdue."""

    class Day(date):
        @classmethod
        def today(cls) -> "Day":
            return cls(2026, 12, 1)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(catalog.clock, "date", Day)
        yield
