"""The patterns of hot ends that a new case may be begun from, by a few questions: each answer with what it writes."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.layers import merge
from meltzone.cases.inputs.reader import load_case, new_case
from meltzone.materials.errors import nearest

BASE = "short-block"


@dataclass(frozen=True)
class Answer:
    """One answer by its `name`, in `words`; it writes the `tables` of a shipped `example` where they differ from the base."""

    name: str
    words: str
    example: str
    tables: tuple[str, ...]


@dataclass(frozen=True)
class Question:
    """What is asked; `usual` is what holds without an answer."""

    words: str
    usual: str
    answers: tuple[Answer, ...]


QUESTIONS = (
    Question(
        "How is the melt zone made longer?",
        "not at all: a short nozzle in a short block",
        (
            Answer("long-block", "a taller block", "long-block", ("block", "nozzle")),
            Answer("long-nozzle", "a long nozzle, its thread bare below the block", "long-nozzle-bare", ("nozzle",)),
            Answer(
                "sleeved-nozzle", "the same with a threaded sleeve on it", "long-nozzle-brass-sleeve", ("nozzle", "sleeve")
            ),
        ),
    ),
    Question(
        "Which block and heater?",
        "a rectangular block with a cartridge",
        (
            Answer("round-block", "a round block with a cartridge", "short-block-round", ("block",)),
            Answer("ring-heater", "a slim round block in a ring heater", "short-block-ring", ("block", "heater")),
            Answer(
                "two-cartridges",
                "a taller block with two cartridges, one above the other",
                "long-block-two-cartridges",
                ("block", "nozzle", "heater", "second_heater"),
            ),
            Answer("two-blocks", "two blocks with a cartridge each", "short-block-two", ("second_block", "heater")),
            Answer("spacer", "a block with a cartridge, and a spacer on it", "short-block-spacer", ("second_block",)),
        ),
    ),
    Question(
        "Which nozzle?",
        "one metal",
        (
            Answer("hard-tip", "a tip of hard steel in a softer body", "short-block-hard-tip", ("tip",)),
            Answer("insert", "an insert of carbide in a softer body", "short-block-carbide-insert", ("nozzle", "tip")),
        ),
    ),
    Question(
        "Which heat break?",
        "one metal, no liner",
        (
            Answer("lined-break", "with a liner down to the nozzle", "short-block-lined", ("heat_break", "liner")),
            Answer("two-metal-break", "a thin tube in thick ends", "short-block-bimetal", ("heat_break", "break_body")),
            Answer("one-piece", "of one piece with the nozzle", "short-block-one-piece", ("nozzle", "heat_break")),
        ),
    ),
    Question(
        "What is known of the heat sink?",
        "its temperature",
        (
            Answer("finned-sink", "its fins and its fan", "short-block-finned", ("heat_sink",)),
            Answer("liquid-sink", "a coolant's temperature, and the resistance to it", "short-block-liquid", ("heat_sink",)),
        ),
    ),
    Question(
        "Is block or nozzle covered?",
        "no",
        (
            Answer("boot", "by a boot", "short-block-boot", ("wrap",)),
            Answer("nozzle-cover", "the nozzle's cone and hexagon by a cap", "short-block-nozzle-cover", ("nozzle_cover",)),
            Answer("loose-boot", "by a boot with air below it", "short-block-loose-boot", ("wrap",)),
        ),
    ),
)  # fmt: skip
BY_NAME = {answer.name: (question, answer) for question in QUESTIONS for answer in question.answers}


def pattern_text(chosen: Iterable[str]) -> str:
    """A case file with only what was `chosen`, by the names of answers; raises CaseError, also where it does not fit."""
    tables: dict[str, dict[str, Any]] = {}
    asked: dict[str, str] = {}
    for name in chosen:
        if name not in BY_NAME:
            close = nearest(name, BY_NAME)
            hint = f'Did you mean "{close[0]}"?' if close else "See meltzone new --help."
            raise CaseError("--with", None, None, name, f"one of {', '.join(BY_NAME)}", hint)
        question, answer = BY_NAME[name]
        if question.words in asked:
            both = f"one answer to: {question.words} {asked[question.words]} is one already"
            raise CaseError("--with", None, None, name, both, "Leave one of them out.")
        asked[question.words] = name
        for table, keys in _written(answer).items():
            tables.setdefault(table, {}).update(keys)
    problem_of(new_case(tables, "pattern", BASE))
    tables.setdefault("heater", {}).setdefault("setpoint", "210 degC")
    head = ["# Only what was chosen; the rest is that of the short block. All keys: meltzone new all.toml"]
    head += ['title = "My hot end"', f'extends = "{BASE}"', "", "[polymer]", 'material = "PLA"']
    return "\n".join([*head, *_lines(tables)]) + "\n"


def _written(answer: Answer) -> Mapping[str, Mapping[str, Any]]:
    """What the answer's example says otherwise than the base, table by table."""
    plain, example = (merge(load_case(name).layers) for name in (BASE, answer.example))
    return {
        table: {key: value for key, value in example[table].items() if plain.get(table, {}).get(key) != value}
        for table in answer.tables
    }


def _lines(tables: Mapping[str, Mapping[str, Any]]) -> Iterable[str]:
    for table, keys in tables.items():
        yield from ("", f"[{table}]")
        for key, value in keys.items():
            yield f"{key} = {json.dumps(value)}"  # texts, numbers, flags and lists look alike in both
