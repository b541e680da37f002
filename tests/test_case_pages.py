"""The starter case and the reference page: both generated from the schema, the page as committed."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from generate.case_file_page import reference_page

from meltzone.cases.inputs.build import arrangement_of, problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.outline import entries, tables
from meltzone.cases.inputs.reader import Case, example_names, load_case
from meltzone.cases.inputs.starter import starter_text


def _load(folder: Path, text: str) -> Case:
    path = folder / "mine.toml"
    path.write_text(text, encoding="utf-8")
    return load_case(path)


def test_starter_loads_as_the_everyday_case(tmp_path: Path) -> None:
    case = _load(tmp_path, starter_text())
    assert arrangement_of(case) == arrangement_of(load_case("short-block"))
    assert problem_of(case).operation == problem_of(load_case("short-block")).operation


@pytest.mark.parametrize("name", example_names())
def test_starter_like_an_example_is_that_example(tmp_path: Path, name: str) -> None:
    mine, shipped = _load(tmp_path, starter_text(name)).model, load_case(name).model
    assert mine.model_copy(update={"title": "", "extends": None}) == shipped.model_copy(
        update={"title": "", "extends": None}
    )


@pytest.mark.parametrize("like", [None, "long-nozzle-brass-sleeve-fan", "short-block-285"])
def test_uncommented_keys_still_load_and_change_nothing_but_the_examples(tmp_path: Path, like: str | None) -> None:
    text = starter_text(like)
    keys = re.sub(r"^# (\w+ = )", r"\1", text, flags=re.MULTILINE)
    keys = re.sub(r"(?s)# \[\w+\].*?(?=\n\n)", "", keys)  # parts that are not there
    keys = re.sub(
        r"(?m)^(lower_bore|lower_bore_length|taper_length|ring_length|ring_begin) = .*\n", "", keys
    )  # not the plain ones
    full, plain = _load(tmp_path, keys), _load(tmp_path, text)
    parts = arrangement_of(plain)
    assert arrangement_of(full) == replace(parts, block=replace(parts.block, sensor_height=parts.block.height / 2.0))
    assert problem_of(full).materials.polymer.flow_temperature == problem_of(plain).materials.polymer.flow_temperature
    assert problem_of(full).contacts == problem_of(plain).contacts
    if like is not None:
        assert full.model.nozzle == plain.model.nozzle


def test_starter_has_every_key_with_its_meaning() -> None:
    flat = " ".join(starter_text().replace("\n# ", " ").split())
    for table, meaning in tables():
        assert f"[{table}]" in flat
        assert meaning in flat
        for entry in entries(table):
            assert (
                f"{entry.description} {entry.name} = " in flat
                or f"{entry.description}\n{entry.name} = " in starter_text()
            ), entry


def test_starter_carries_the_caution() -> None:
    assert "can burn people and start fires" in " ".join(starter_text().replace("#", " ").split())


def test_starter_like_nothing_known() -> None:
    with pytest.raises(CaseError):
        starter_text("nothing-like-it")


def test_page_documents_every_key_with_meaning_and_default() -> None:
    page = reference_page()
    for table, _ in [("", ""), *tables()]:
        for entry in entries(table):
            assert entry.description.endswith(".")
            assert entry.default
            assert f"`{entry.name}`" in page or f"[{entry.name}." in page


def test_the_page_s_own_example_loads(tmp_path: Path) -> None:
    found = re.search(r"```toml\n(.*?)```", reference_page(), flags=re.DOTALL)
    assert found is not None
    assert problem_of(_load(tmp_path, found.group(1))).operation.setpoint == 493.15
