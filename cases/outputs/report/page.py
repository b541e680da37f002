"""The report of a case as one page: inputs with sources, ceilings, limits, levers, heat, cautions, how to repeat it."""

from __future__ import annotations

from pathlib import Path

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import Case
from meltzone.cases.outputs import explain
from meltzone.cases.outputs.axis_figure import axis_figure
from meltzone.cases.outputs.field_figure import field_figure
from meltzone.cases.outputs.grid import within
from meltzone.cases.outputs.guard import files_of
from meltzone.cases.outputs.html import page_html
from meltzone.cases.outputs.page import (
    Answer,
    Beware,
    Block,
    Cautions,
    Head,
    Listing,
    Page,
    Picture,
    Section,
    Warnings,
    Words,
)
from meltzone.cases.outputs.printing import speeds
from meltzone.cases.outputs.report.input_tables import case_text, default_contacts, written_inputs
from meltzone.cases.outputs.report.job_text import field_alt, job_sentences, passage_alt, section_alt
from meltzone.cases.outputs.report.property_tables import property_grids, weak_words
from meltzone.cases.outputs.report.result_tables import mesh, parts, pushing, stuck_on
from meltzone.cases.outputs.result import answer, ceilings, evidence, flow_words, heat, outside, state, width
from meltzone.cases.outputs.section_figure import problem_figure
from meltzone.cases.outputs.writing import staged_file
from meltzone.cases.studies.explain import Explained, explained_of
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.run import Reporter, run
from meltzone.cases.studies.versions import versions

ENDINGS = (".html", ".htm")
SECTION = "Section through the axis: the mesh on the left, parts and heater ring on the right"
FIELD = (
    "Temperature in the section, and in the passage with its radius stretched; inside the bright line the core is stiff"
)
PASSAGE = "Bore wall and core along the passage; the filament travels from left to right"
BUDGET = (
    "The budget says by how many percent the ceiling would rise if one conductance rose by one percent, times a hundred. "
    "All shares together make the whole; losses count against it."
)
LEVERS = "To first order, each step taken alone. Solve the changed case before building it."
SOLVED = "These say how well the equations are solved, not how well they describe a real hot end."
NO_FORCE = "The feeder's force is not computed: a weak feeder or a small orifice can stop the flow sooner."
BEYOND = (
    "How hot it gets with the heater stuck on lies beyond the tables of the losses: hotter than anything here stands."
)


def write_report(case: Case, path: Path, report: Reporter | None = None) -> Explained:
    """Find ceilings, mesh error and levers of `case` and write them to `path` as one HTML page.

    The name and the place of `path` are tried before anything is solved; `report` is told what is being done. Raises
    CaseError.
    """
    if path.suffix.lower() not in ENDINGS:
        hint = f"{path.with_suffix('.html').name} will do." if path.name else "my-case.html will do."
        raise CaseError(f"output {path}", None, None, None, "a page's name ending in .html", hint)
    with staged_file(path, reads=files_of(case)) as temporary:
        explained = explained_of(run(case, report=report), report=report)
        if report is not None:
            report("page")
        temporary.write_text(page_html(page(explained)), encoding="utf-8")
    return explained


def short_page(explained: Explained) -> Page:
    """What the terminal says beside a written report: the answer, what limits it, warnings and cautions."""
    result = explained.result
    head = Head(result.title, result.case.file)
    warnings = Warnings((*result.warnings, *explained.notes))
    said: list[Block] = [
        outside([result]),
        answer(result, explained.bottleneck),
        *speeds(result),
        evidence([result]),
        warnings,
    ]
    return Page((head, *said, Cautions(result.safety)))


def page(explained: Explained) -> Page:
    """The whole report."""
    result = explained.result
    said, beware = _answer(explained)
    blocks: list[Block] = [Head(result.title, result.case.file), outside([result]), said, *_picture(result), beware]
    if result.band is not None:
        blocks.append(width(result.band))
    blocks += [Section("Ceilings, and what governs", "Ceilings"), ceilings(result), *speeds(result), *pushing(result)]
    if explained.explanation is not None:
        blocks += _limits(explained)
    if explained.interval is not None:
        blocks += explain.interval(explained.interval)
    if result.field is not None:
        blocks += [Section("Where the heat goes", "Heat"), heat(result.field.balance)]
    if result.field is not None:
        blocks += _temperatures(result)
    blocks += [evidence([result]), *_accuracy(explained), *_cautions(result), *_made_of(result)]
    blocks += [*_materials(result), *_repeat(result)]
    return Page(tuple(blocks), "Flow ceiling of a hot end")


def _picture(result: Result) -> list[Block]:
    field = result.field
    return [] if field is None else [Picture(lambda: field_figure(field, "", ""), FIELD, field_alt(result))]


def _answer(explained: Explained) -> tuple[Answer, Beware]:
    result = explained.result
    beware = Beware("This is an estimate, not a permission.", result.safety)
    if result.flow_ceiling is None:
        return Answer(f"No ceiling\n{result.statement}.", "No ceiling", good=False), beware
    flow, lines = flow_words(result)[0], [f"{result.statement}. The {result.governs} ceiling governs."]
    if result.band is not None:
        _, ends = within(result.flow_ceiling, *result.band.bounds)
        lines.insert(0, f"Nine times in ten it lies between {ends.replace(' to ', ' and ')} mm³/s.")
    if explained.interval is not None:
        low, high = explained.interval.bounds
        lines.append(f"With the tolerances given, 95 % of the ceilings lie between {low:.2f} and {high:.2f} mm³/s.")
    return Answer("\n".join([*lines, explained.bottleneck]), flow), beware


def _made_of(result: Result) -> list[Block]:
    layers = "; ".join(layer.label for layer in result.case.layers)
    contacts = default_contacts(result.case)
    return [
        Section("The job", "Job", folded=True),
        Words("\n".join(job_sentences(result))),
        Section("Inputs", folded=True),
        Words(
            f"The case is made of, the nearest first: {layers}. The numbers of the materials stand under Materials, the whole "
            "case with its defaults under Repeat."
        ),
        written_inputs(result.case),
        *([] if contacts is None else [contacts]),
        Section("Section and mesh", "Section", folded=True),
        Picture(lambda: problem_figure(result.system.space.section, result.problem, ""), SECTION, section_alt(result)),
        parts(result),
    ]


def _temperatures(result: Result) -> list[Block]:
    field = result.field
    assert field is not None
    return [
        Section("Temperatures at the ceiling", "Temperatures"),
        state(result, told=True),
        Picture(lambda: axis_figure(field, "", ""), PASSAGE, passage_alt(result), "svg"),
    ]


def _limits(explained: Explained) -> list[Block]:
    return [
        Section("What limits it", "Limits"),
        Words(explained.bottleneck),
        Words(BUDGET),
        explain.budget(explained),
        explain.drops(explained),
        Words(explain.DROPS, quiet=True),
        Section("Levers: what each change would buy", "Levers"),
        Words(LEVERS),
        *explain.levers(explained.strongest("design"), "What one can build or set"),
        *explain.levers(explained.strongest("data"), "What the number hangs on"),
        Warnings(tuple(explain.warmer(explained))),
    ]


def _accuracy(explained: Explained) -> list[Block]:
    result = explained.result
    texts = (*result.warnings, *explained.notes)
    force = [NO_FORCE] if result.feeding_force is None else []
    return [
        Section("Accuracy and warnings", "Accuracy"),
        mesh(result),
        Words(" ".join([SOLVED, *force, "Grades of material differ from the cards."])),
        Warnings(texts),
    ]


def _cautions(result: Result) -> list[Block]:
    table = stuck_on(result)
    return [Section("Cautions"), Cautions(result.safety), Words(BEYOND) if table is None else table]


def _materials(result: Result) -> list[Block]:
    grids = property_grids(result)
    title = Section("Material properties and their sources", "Materials", folded=True)
    return [title, Words(weak_words(grids)), *grids]


def _repeat(result: Result) -> list[Block]:
    name = result.case.name
    known = ", ".join(f"{library} {number}" for library, number in versions().items())
    return [
        Section("How to repeat it", "Repeat", folded=True),
        Words(
            f"Computed with {known}. Save the text below as {name}.toml; then meltzone report {name}.toml writes this page "
            f"again, and meltzone run {name}.toml every number behind it."
        ),
        Listing(case_text(result.case), "The case with every input"),
    ]
