"""Settings of all tests: one thread for the small matrices here, and random inputs that are the same in every run.

Fresh inputs come with HYPOTHESIS_PROFILE=fresh.
"""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

# before numpy is loaded, here and in every process that a test starts: a second thread slows matrices of this size
for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

settings.register_profile("steady", derandomize=True)
settings.register_profile("fresh", derandomize=False)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files with long tests come first, so that no worker is left alone with one of them at the end."""
    long = {item.path for item in items if item.get_closest_marker("slow")}
    items.sort(key=lambda item: item.path not in long)
