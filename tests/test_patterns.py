"""Cases begun from patterns: each answer gives its example, and only what was chosen is written."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import pytest
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.commands.describe import WithOption
from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.patterns import BY_NAME, QUESTIONS, pattern_text
from meltzone.cases.inputs.reader import load_case


@pytest.mark.parametrize("name", BY_NAME)
def test_one_answer_gives_the_parts_of_its_example(name: str, tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(pattern_text([name]), encoding="utf-8")
    made, example = problem_of(load_case(path)), problem_of(load_case(BY_NAME[name][1].example))
    assert made.arrangement == example.arrangement
    assert made.materials.tip is example.materials.tip and made.materials.liner is example.materials.liner
    assert made.operation.rating == example.operation.rating


def test_only_what_was_chosen_is_written() -> None:
    text = pattern_text(["ring-heater", "hard-tip", "finned-sink"])
    assert [line for line in text.splitlines() if line.startswith("[")] == [
        "[polymer]", "[block]", "[heater]", "[tip]", "[heat_sink]",
    ]  # fmt: skip


def test_the_help_names_every_answer() -> None:
    said = get_args(WithOption)[1].help
    for question in QUESTIONS:
        assert ", ".join(answer.name for answer in question.answers) in said


def test_two_answers_to_one_question_and_unknown_ones_are_refused() -> None:
    with pytest.raises(CaseError, match="one answer"):
        pattern_text(["round-block", "ring-heater"])
    with pytest.raises(CaseError, match="hard-tip"):
        pattern_text(["hard-tipp"])


def test_the_command_asks_a_few_questions(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    answers = "0\n2\n1\n\n0\n1\n"  # ring heater, hard tip, boot
    given = CliRunner().invoke(app, ["new", str(path), "--ask"], input=answers)
    assert given.exit_code == 0 and len(QUESTIONS) == 6
    assert path.read_text(encoding="utf-8") == pattern_text(["ring-heater", "hard-tip", "boot"])
    refused = CliRunner().invoke(app, ["new", str(tmp_path / "b.toml"), "--with", "boot", "--like", "short-block"])
    assert refused.exit_code == 2 and not (tmp_path / "b.toml").exists()
