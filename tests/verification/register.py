"""All groups of checks, in the order of the documentation page."""

from __future__ import annotations

from . import benchmarks, entry, films, fins, joints, manufactured, profiles, radiation, study
from .checks import GROUPS, Group

ORDER = (
    entry.plug_checks,
    entry.ceiling_checks,
    entry.robin_checks,
    profiles.axial_checks,
    profiles.graetz_checks,
    profiles.power_law_checks,
    benchmarks.benchmark_checks,
    joints.composite_checks,
    fins.fin_checks,
    radiation.radiation_checks,
    films.film_checks,
    manufactured.manufactured_checks,
    study.study_checks,
)


def all_groups() -> tuple[Group, ...]:
    """Every group once; raises where one is registered but has no place on the page."""
    missing = set(GROUPS) - {group.key for group in ORDER}
    if missing:
        raise LookupError(f"groups without a place on the page: {sorted(missing)}")
    return ORDER
