"""What a notebook shows of a result: a small table and the picture of the field."""

from __future__ import annotations

from meltzone.cases.outputs.report.embedded_figures import SMALL, field_picture
from meltzone.cases.outputs.report.job_text import field_alt
from meltzone.cases.outputs.report.report_page import template
from meltzone.cases.outputs.tables import number
from meltzone.cases.studies.results import Result
from meltzone.materials.limits import DEFERENCE


def result_html(result: Result) -> str:
    """The result as a piece of HTML, its picture within; where nothing flows, the reason."""
    rows = {
        "flow [mm³/s]": number(result.flow, 2),
        "melt ceiling [mm³/s]": number(result.melt_ceiling, 2),
        "power ceiling [mm³/s]": number(result.power_ceiling, 2),
        "heater [W]": number(result.power, 1),
        "core [degC]": number(result.core, 1),
        "mean [degC]": number(result.mean, 1),
        "bore wall [degC]": number(result.wall, 1),
        "tip [degC]": number(result.tip, 1),
    }
    if result.force_ceiling is not None:
        rows["force ceiling [mm³/s]"] = number(result.force_ceiling, 2)
    solved = result.field is not None
    return template("notebook.html.j2").render(
        title=result.title,
        verdict=result.verdict,
        rows=rows if solved else {},
        picture=field_picture(result, SMALL) if solved else None,
        alt=field_alt(result) if solved else "",
        warnings=result.warnings,
        grave=[found.text for found in result.cautions if found.severity != "note"],
        deference=DEFERENCE,
    )
