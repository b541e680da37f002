"""Settings of all tests: random inputs are the same in every run, and fresh ones with HYPOTHESIS_PROFILE=fresh."""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("steady", derandomize=True)
settings.register_profile("fresh", derandomize=False)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))
