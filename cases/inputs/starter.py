"""The commented case file to begin with: every key with its meaning and its value, generated from the schema."""

from __future__ import annotations

from collections.abc import Mapping
from textwrap import fill

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.fields import in_case_file
from meltzone.cases.inputs.outline import Entry, as_toml, entries, tables
from meltzone.cases.inputs.parameters import parameters, table_model
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.inputs.schema import OPTIONAL_TABLES, CaseModel
from meltzone.fem.problem import Problem

WIDTH = 100
SETPOINT = 'setpoint = "210 degC"'
WARNING = (
    "Molten plastic, a hot end and its mains supply can burn people and start fires, and overheated polymers, PTFE and "
    "adhesives give off fumes. Numbers from this case do not replace the makers' data sheets, local codes or qualified "
    "people."
)


def starter_text(like: str | None = None) -> str:
    """A case file that loads as it is: all keys commented out, with the defaults, or the values of `like`.

    `like`, the name of a shipped example or the path of a case, is what the text extends; raises CaseError if there
    is none.
    """
    case = load_case("short-block" if like is None else like)
    implied = _implied(problem_of(case))
    model = case.model if like is not None else None
    lines = ["# A case: one hot end, what it melts, and how hot.", "# Remove the # before a key to change it.", "#"]
    lines += [*_comment(WARNING), ""]
    lines += ['title = "My hot end"']
    lines += [f'extends = "{_escaped(like)}"'] if like is not None else []
    for name, meaning in tables():
        lines += ["", *_comment(meaning), *_header(name, model)]
        for entry in entries(name):
            lines += _key_lines(entry, model, implied)
    lines += ["", *_comment("Your own material cards are tables [materials.NAME] in the form of the shipped cards.")]
    return "\n".join(lines) + "\n"


def _header(name: str, model: CaseModel | None) -> list[str]:
    if name not in OPTIONAL_TABLES:
        return [f"[{name}]"]
    if model is not None and getattr(model, name) is not None:
        return [f"[{name}]  # to drop it, write {name} = false above the first table instead"]
    return [f"# [{name}]"]


def _implied(problem: Problem) -> dict[str, str]:
    """Values of the keys whose default depends on other keys or on the polymer's card, as TOML."""
    left_out = {table: table_model(table) for table, _ in tables()}
    return {
        key: in_case_file(value, each.kind)
        for key, each in parameters().items()
        if (model := left_out[each.path[0]])
        and model.model_fields[each.path[1]].default is None
        and (value := each.in_problem(problem)) is not None
    }


def _key_lines(entry: Entry, model: CaseModel | None, implied: Mapping[str, str]) -> list[str]:
    """The description and the key itself, commented out except for the setpoint of a case that extends nothing."""
    if entry.key == "heater.setpoint" and model is None:
        return [*_comment(entry.description), SETPOINT]
    table = getattr(model, entry.table) if model is not None else None
    fields = table_model(entry.table)
    value = implied.get(entry.key, entry.example)
    note = "" if value == entry.default else f"  # default: {entry.default}"
    if table is not None and fields is not None:
        own = as_toml(fields.model_fields[entry.name], getattr(table, entry.name))
        value, note = (own, "") if own else (value, note)
    return [*_comment(entry.description), f"# {entry.name} = {value}{note}"]


def _comment(text: str) -> list[str]:
    return fill(text, WIDTH, initial_indent="# ", subsequent_indent="# ").splitlines()


def _escaped(name: str) -> str:
    return name.replace("\\", "\\\\").replace('"', '\\"')
