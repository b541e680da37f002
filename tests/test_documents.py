"""The documents tell the truth: names exist, links lead somewhere, commands and examples give what the pages quote."""

from __future__ import annotations

import ast
import importlib
import re
from pathlib import Path
from typing import Any

import pytest
import regenerate
from generate.evidence.claim import claim, length_gain
from regenerate import GENERATED, QUESTIONS, ROOT, TUTORIAL, WRITTEN, agrees, exchanges, python_examples
from typer.main import get_command

from meltzone.cases.commands.cli import app
from meltzone.cases.studies.run import check

PAGES = [*WRITTEN, *GENERATED, ROOT / "CHANGELOG.md"]
NAME = re.compile(r"`(meltzone(?:\.\w+)+)`")
LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")
LARGEST_PICTURE = 200_000  # bytes; a page must load on a slow line
ELSEWHERE = (TUTORIAL, QUESTIONS)  # whose commands tests of their own carry out
WITH_COMMANDS = [page for page in WRITTEN if "```console" in page.read_text(encoding="utf-8") and page not in ELSEWHERE]
WITH_PYTHON = [page for page in WRITTEN if "```python" in page.read_text(encoding="utf-8")]


def _text(page: Path) -> str:
    return page.read_text(encoding="utf-8")


def _name(page: Path) -> str:
    return str(page.relative_to(ROOT))


def _resolved(name: str) -> Any:
    """What a dotted name stands for; fields of dataclasses without a default count by their declaration."""
    parts = name.split(".")
    found: Any = None
    for end in range(len(parts), 0, -1):
        try:
            found = importlib.import_module(".".join(parts[:end]))
        except ModuleNotFoundError:
            continue
        for part in parts[end:]:
            declared = getattr(found, "__dataclass_fields__", {})
            found = declared[part] if part in declared else getattr(found, part)
        return found
    raise ModuleNotFoundError(name)


@pytest.mark.parametrize("page", PAGES, ids=_name)
def test_every_name_exists(page: Path) -> None:
    missing = []
    for name in set(NAME.findall(_text(page))):
        try:
            _resolved(name)
        except (AttributeError, ModuleNotFoundError):
            missing.append(name)
    assert not missing


def test_a_name_that_does_not_exist_is_found_out() -> None:
    with pytest.raises(AttributeError):
        _resolved("meltzone.fem.forms.convection")
    with pytest.raises(AttributeError):
        _resolved("meltzone.nowhere.convection")


def test_every_equation_names_the_function_that_holds_it() -> None:
    blocks = re.split(r"^```math\n.*?^```$", _text(ROOT / "docs" / "theory.md"), flags=re.MULTILINE | re.DOTALL)
    assert len(blocks) > 20
    for after in blocks[1:-1]:
        text = re.split(r"^## ", after, flags=re.MULTILINE)[0]
        if len(text.split()) > 20:  # a few words join two equations that share what follows the second
            assert NAME.search(text), f"no function named after an equation, before: {text[:200]}"


@pytest.mark.parametrize("page", PAGES, ids=_name)
def test_every_link_leads_to_a_file_and_a_heading(page: Path) -> None:
    for target in LINK.findall(_text(page)):
        if target.startswith("http"):
            continue
        path, _, heading = target.partition("#")
        file = (page.parent / path).resolve() if path else page
        assert file.exists(), f"{_name(page)} links to {target}"
        if heading and file.suffix == ".md":
            assert heading in _anchors(_text(file)), f"{_name(page)} links to {target}"


def _anchors(text: str) -> set[str]:
    headings = re.findall(r"^#+ (.+)$", text, flags=re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


def test_every_page_stands_in_the_index_and_in_the_readme() -> None:
    for index in (ROOT / "docs" / "index.md", ROOT / "README.md"):
        linked = {(index.parent / target.partition("#")[0]).resolve() for target in LINK.findall(_text(index))}
        for page in (ROOT / "docs").glob("*.md"):
            if page.name != "index.md":
                assert page in linked, f"{page.name} is missing in {index.name}"


def test_the_page_on_design_names_the_modules_that_there_are() -> None:
    """Each where it lies; of cases, whose outputs are many and called alike, all modules of the inputs."""
    detail = _text(ROOT / "docs" / "design.md").partition("## The rooms in detail\n")[2].partition("\n## ")[0]
    rooms = re.split(r"^\*\*(\w+)/\*\*", detail, flags=re.MULTILINE)[1:]
    assert rooms[::2] == ["materials", "geometry", "fem", "cases"]
    for room, text in zip(rooms[::2], rooms[1::2], strict=True):
        there = {path.name for path in (ROOT / room).rglob("*.py") if path.stat().st_size}
        inputs = {path.name for path in (ROOT / room / "inputs").glob("*.py")}
        named = set(re.findall(r"`(\w+\.py)`", text))
        assert named <= there, room
        assert (inputs or there) - {"__init__.py"} <= named, room


def test_the_way_of_a_key_leads_through_files_that_are_there_each_once() -> None:
    way = _text(ROOT / "docs" / "design.md").partition("## From a key to the answer\n")[2].partition("\n## ")[0]
    files = re.findall(r"^\| `([\w/]+\.py)` \|", way, flags=re.MULTILINE)
    assert "`nozzle.length`" in way and len(files) > 15
    assert len(set(files)) == len(files) and all((ROOT / file).is_file() for file in files)


def test_pictures_are_small() -> None:
    for picture in regenerate.IMAGES.iterdir():
        assert picture.stat().st_size < LARGEST_PICTURE, picture.name


@pytest.mark.parametrize("page", GENERATED, ids=_name)
def test_generated_pages_are_up_to_date(page: Path) -> None:
    assert _text(page) == GENERATED[page](), "run: python docs/regenerate.py"


@pytest.mark.parametrize("page", WITH_COMMANDS, ids=_name)
def test_quoted_outputs_are_those_of_the_program(page: Path) -> None:
    for found in exchanges(page):
        assert agrees(found.quoted, found.given), f"$ {found.command}\n{found.given}\n(python docs/regenerate.py)"


@pytest.mark.parametrize(
    ("quoted", "given", "same"),
    [
        ("ceiling 12.99 mm", "ceiling 13.05 mm", True),  # within two percent
        ("ceiling 12.99 mm", "ceiling 13.99 mm", False),
        ("a 0.1", "a 0.2", True),  # within two of the last digit
        ("a 1", "a", False),
        ("melt  4.78  ███", "melt  4.79 ██", True),
        ("power", "melt", False),
        ("one\n...\nthree", "one\ntwo\nthree", True),
        ("...\nthree\ntwo", "one\ntwo\nthree", False),
        ("one\ntwo", "one\ntwo\nthree", False),
    ],
)
def test_agreement_of_outputs(quoted: str, given: str, same: bool) -> None:
    assert agrees(quoted, given) is same


@pytest.mark.parametrize("page", WITH_PYTHON, ids=_name)
def test_python_examples_give_what_the_page_says(page: Path) -> None:
    examples = python_examples(page)
    assert any(example.want for example, _ in examples)
    for example, given in examples:
        assert agrees(example.want, given), f"{example.source}{given}(python docs/regenerate.py)"


def test_the_readme_begins_with_the_job() -> None:
    paragraph = _text(ROOT / "README.md").split("\n\n")[1]
    assert not paragraph.startswith(("#", "!", "[", "`", "```"))
    assert "hot end" in paragraph and paragraph.count("\n") < 8


def test_ci_runs_the_readme_s_own_command() -> None:
    lines = _text(ROOT / "README.md").splitlines()
    commands = [line for line in lines if line.startswith("python3.11 -m venv .venv-test ")]
    assert len(commands) == 1
    assert commands[0].endswith(".venv-test/bin/python -m pytest -n auto")
    assert commands[0] in _text(ROOT / "DEVELOPERS.md")
    script = ROOT / ".ci" / "run"
    assert script.stat().st_mode & 0o111, "not executable"
    assert "grep -m 1 '^python3\\.11 -m venv \\.venv-test ' README.md" in _text(script)
    assert not [line for line in _text(script).splitlines() if "pip install" in line]


def test_what_the_model_cannot_do_stands_beside_its_claim() -> None:
    """In the same paragraph as the mean error, with the numbers of the data file, and on the page of evidence alike."""
    paragraphs = [" ".join(each.split()) for each in _text(ROOT / "README.md").split("\n\n")]
    [claimed] = [each for each in paragraphs if "with a mean error of" in each]
    assert claim() in claimed
    assert claim() in " ".join(_text(ROOT / "docs" / "validation.md").split())
    measured, spread, predicted = length_gain()
    assert predicted > measured + spread  # and it is one


def test_the_readme_names_every_command() -> None:
    group: Any = get_command(app)
    for name in group.commands:
        assert re.search(rf"`meltzone {name}[ `]", _text(ROOT / "README.md")), name


def test_warnings_stand_where_people_begin() -> None:
    pages = ("tutorial", "troubleshooting", "materials", "case-file", "theory")
    for page in ("README.md", *(f"docs/{name}.md" for name in pages)):
        words = " ".join(_text(ROOT / page).replace(">", " ").split()).lower()
        assert "data sheets, local codes" in words or "data sheet, local codes" in words, page


def test_the_versions_agree() -> None:
    project = re.search(r'^version = "(.+)"$', _text(ROOT / "pyproject.toml"), flags=re.MULTILINE)
    cited = re.search(r"^version: (.+)$", _text(ROOT / "CITATION.cff"), flags=re.MULTILINE)
    assert project and cited and project.group(1) == cited.group(1)


def test_this_suite_reads_all_fences() -> None:
    """No fence in a language that nothing checks."""
    known = {"sh", "toml", "console", "python", "math", "diff"}
    for page in WRITTEN:
        assert set(re.findall(r"^```(\w+)", _text(page), flags=re.MULTILINE)) <= known, page


@pytest.mark.parametrize("page", WITH_PYTHON, ids=_name)
def test_python_examples_import_what_is_public(page: Path) -> None:
    source = "\n".join(re.findall(r"^(?:>>>|\.\.\.) (.*)$", _text(page), flags=re.MULTILINE))
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ImportFrom):
            assert not any(alias.name.startswith("_") for alias in node.names)


def test_the_readme_s_own_case_can_be_solved(tmp_path: Path) -> None:
    found = re.search(r"^```toml\n(# my\.toml\n.*?)^```$", _text(ROOT / "README.md"), flags=re.MULTILINE | re.DOTALL)
    assert found
    (tmp_path / "my.toml").write_text(found.group(1), encoding="utf-8")
    assert check(tmp_path / "my.toml").problem.operation.setpoint == pytest.approx(493.15)
