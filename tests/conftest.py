"""What holds for all tests."""

import os

from hypothesis import HealthCheck, settings

pytest_plugins = ["tests.published.record"]

# A busy machine is no failure. In CI the same cases are drawn each time; elsewhere always new ones.
settings.register_profile(
    "clearance",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=bool(os.environ.get("CI")),
)
settings.load_profile("clearance")
