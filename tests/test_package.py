"""What is installed: nothing at the top but meltzone, with its data files, and a command that runs without the sources."""

from __future__ import annotations

import shutil
import subprocess
import sys
import zipfile
from pathlib import Path, PurePosixPath

import pytest

ROOT = Path(__file__).resolve().parent.parent
FOLDERS = ("fem", "geometry", "materials", "cases")
ELSEWHERE = shutil.ignore_patterns("__pycache__", "*.pyc", "*.egg-info")

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A wheel built from a copy of the sources, without the network and without leaving anything in the checkout."""
    sources, out = tmp_path_factory.mktemp("sources"), tmp_path_factory.mktemp("wheel")
    for name in FOLDERS:
        shutil.copytree(ROOT / name, sources / name, ignore=ELSEWHERE)
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, sources / name)
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), str(sources)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return next(out.glob("*.whl"))


@pytest.fixture(scope="module")
def contents(wheel: Path) -> list[PurePosixPath]:
    """Paths inside the wheel, without its metadata."""
    with zipfile.ZipFile(wheel) as archive:
        paths = [PurePosixPath(name) for name in archive.namelist()]
    return [path for path in paths if not path.parts[0].endswith(".dist-info")]


def test_nothing_but_meltzone_stands_at_the_top(contents: list[PurePosixPath]) -> None:
    assert {path.parts[0] for path in contents} == {"meltzone"}
    assert {path.parts[1] for path in contents} == {*FOLDERS, "__init__.py"}


def test_every_module_and_data_file_is_in(contents: list[PurePosixPath]) -> None:
    packed = {path.relative_to("meltzone").as_posix() for path in contents}
    found = {
        path.relative_to(ROOT).as_posix().removeprefix("cases/front/")
        for name in FOLDERS
        for path in (ROOT / name).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert packed == found


def test_no_document_and_no_test_is_in(contents: list[PurePosixPath]) -> None:
    assert not [path for path in contents if "tests" in path.parts or path.suffix in (".md", ".ipynb")]


def test_it_runs_from_the_wheel_alone(wheel: Path, tmp_path: Path) -> None:
    """Unpacked far from the sources, before any other meltzone on the path."""
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(tmp_path / "site")
    code = (
        "import sys; sys.path.insert(0, sys.argv.pop(1))\n"
        "sys.meta_path = [f for f in sys.meta_path if '__editable__' not in str(getattr(f, '__module__', f))]\n"
        "import meltzone.cases.commands.cli as cli; print(cli.__file__); cli.main()"
    )
    command = [sys.executable, "-c", code, str(tmp_path / "site"), "ceiling", "short-block"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(str(tmp_path / "site"))
    assert "short-block" in done.stdout and "melt" in done.stdout
