"""What notebooks show of everything that verbs find: the page of its kind, made when it is asked for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from meltzone.cases.outputs import (
    check,
    compare,
    curve,
    design,
    explain,
    material,
    plan,
    reduce,
    result,
    sweep,
    transient,
    validate,
)
from meltzone.cases.outputs.html import fragment_html
from meltzone.cases.outputs.page import Page
from meltzone.cases.studies.bench.plan import Plan
from meltzone.cases.studies.bench.reduce import Reduction
from meltzone.cases.studies.compare import Comparison
from meltzone.cases.studies.delivery import Delivery
from meltzone.cases.studies.design.run import Designed
from meltzone.cases.studies.explain import Explained
from meltzone.cases.studies.material.make import MadeCard
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.run import Checked
from meltzone.cases.studies.sweep.run import Swept
from meltzone.cases.studies.transient import Timed
from meltzone.cases.studies.validation.outcome import Validation

METHOD = "_repr_html_"  # by which notebooks ask
PAGES: dict[type, Callable[[Any], Page]] = {
    Checked: check.page, Comparison: compare.page, Delivery: curve.page, Designed: design.page, Explained: explain.page,
    MadeCard: material.page,
    Plan: plan.page, Reduction: reduce.page, Result: result.notebook_page, Swept: sweep.page, Timed: transient.page,
    Validation: validate.page,
}  # fmt: skip


def shown(found: Any) -> str:
    """What a verb `found`, as a piece of HTML."""
    return fragment_html(PAGES[type(found)](found))


for kind in PAGES:
    setattr(kind, METHOD, shown)
