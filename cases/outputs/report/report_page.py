"""The page: gathers what is known of an explained case and fills the template, which escapes every word of it."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined, Template

from meltzone.cases.outputs.explain_tables import NO_TOLERANCE, warmer
from meltzone.cases.outputs.record import versions
from meltzone.cases.outputs.report import answer_tables, job_text
from meltzone.cases.outputs.report.embedded_figures import field_picture, passage_picture, section_picture
from meltzone.cases.outputs.report.input_tables import case_text, default_contacts, written_inputs
from meltzone.cases.outputs.report.property_tables import property_grids, weak_count
from meltzone.cases.outputs.tables import SEVERITY
from meltzone.cases.studies.cautions import BURNS, ORDER, without_deference
from meltzone.cases.studies.explain import Explained
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.wording import beyond_words
from meltzone.materials.limits import DEFERENCE, Finding


def report_page(explained: Explained) -> str:
    """The whole report as one HTML page that asks for nothing outside of it."""
    result = explained.result
    context = _head(explained) | _made_of(result) | _judged(explained) | _repeat(result)
    if result.field is not None:
        context |= _state(result)
    if explained.explanation is not None:
        context |= _limits(explained)
    return template("report.html.j2").render(context)


@cache
def template(name: str) -> Template:
    """A template of this folder; whatever it is filled with is escaped, and a missing word is an error."""
    environment = Environment(
        loader=FunctionLoader(_text), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return environment.get_template(name)


def _text(name: str) -> str:
    return files("meltzone.cases.outputs.report").joinpath(name).read_text(encoding="utf-8")


def _head(explained: Explained) -> dict[str, Any]:
    result = explained.result
    return {
        "style": _text("report.css"),
        "title": result.title,
        "name": result.case.name,
        "file": result.case.file,
        "solved": result.field is not None,
        "explained": explained.explanation is not None,
        "force_known": result.feeding_force is not None,
        "ceiling": None if result.flow_ceiling is None else f"{result.flow_ceiling:.1f}",
        "governs": result.governs,
        "statement": result.statement,
        "bottleneck": explained.bottleneck,
        "interval": None if explained.interval is None else _interval(explained),
        "sentences": job_text.job_sentences(result),
    }


def _interval(explained: Explained) -> dict[str, Any]:
    found = explained.interval
    assert found is not None
    low, high = found.bounds
    return {
        "low": f"{low:.2f}",
        "high": f"{high:.2f}",
        "centre": f"{found.centre:.2f}",
        "deviation": f"{found.deviation:.2f}",
        "grid": answer_tables.interval(found),
        "skipped": [f"{key} is left out: {why}." for key, why in found.skipped.items()],
        "other_within": found.other_within,
        "limits": NO_TOLERANCE,
    }


def _made_of(result: Result) -> dict[str, Any]:
    grids = property_grids(result)
    return {
        "inputs": written_inputs(result.case),
        "contacts": default_contacts(result.case),
        "section": {"picture": section_picture(result), "alt": job_text.section_alt(result)},
        "parts": answer_tables.parts(result),
        "mesh": answer_tables.mesh(result),
        "ceilings": answer_tables.ceilings(result),
        "properties": grids,
        "weak": weak_count(grids),
    }


def _state(result: Result) -> dict[str, Any]:
    assert result.field is not None
    return {
        "field": {"picture": field_picture(result), "alt": job_text.field_alt(result)},
        "passage": {"picture": passage_picture(result), "alt": job_text.passage_alt(result)},
        "temperatures": answer_tables.temperatures(result),
        "pushing": answer_tables.pushing(result),
        "heat": answer_tables.heat(result.field.balance),
    }


def _limits(explained: Explained) -> dict[str, Any]:
    design = answer_tables.levers(explained.strongest("design"), "What one can build or set")
    data = answer_tables.levers(explained.strongest("data"), "What the number hangs on")
    return {
        "budget": answer_tables.budget(explained),
        "drops": answer_tables.drops(explained),
        "levers": [grid for grid in (design, data) if grid is not None],
        "warmer": warmer(explained),
    }


def _judged(explained: Explained) -> dict[str, Any]:
    result = explained.result
    stuck = result.stuck_on
    cautions = [_caution(found) for found in sorted(result.safety, key=lambda found: ORDER.index(found.severity))]
    return {
        "warnings": [*result.warnings, *explained.notes],
        "cautions": cautions,
        "gravest": [caution for caution in cautions if caution["severity"] != "note"],
        "burns": BURNS,
        "deference": DEFERENCE,
        "stuck_on": answer_tables.stuck_on(result),
        "beyond": list(beyond_words(stuck)) if stuck is not None else [],
    }


def _caution(found: Finding) -> dict[str, str]:
    text = without_deference(found)
    return {"word": SEVERITY[found.severity][0], "severity": found.severity, "text": text[:1].upper() + text[1:]}


def _repeat(result: Result) -> dict[str, Any]:
    return {
        "versions": versions(),
        "layers": [layer.label for layer in result.case.layers],
        "case_text": case_text(result.case),
    }
