"""The report in a real browser, where there is one: its width on a phone, its pages on paper, and no request outside."""

from __future__ import annotations

import contextlib
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pypdf
import pytest
from outputs import COARSE, assert_drawn, pixels
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.outputs import design as design_shown
from meltzone.cases.outputs.html import page_html
from meltzone.cases.outputs.report.page import write_report
from meltzone.cases.studies.design.run import design

BROWSER = Path("/usr/bin/chromium")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
]

HEADS = (
    "The job", "Inputs", "Section and mesh", "Ceilings, and what governs", "What limits it", "Where the heat goes",
    "Levers: what each change would buy", "Accuracy and warnings", "Cautions", "How to repeat it",
)  # fmt: skip

pytestmark = pytest.mark.skipif(not BROWSER.exists(), reason=f"{BROWSER} is not installed")


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A report with a title that has no blanks to break at."""
    path = tmp_path_factory.mktemp("report") / "page.html"
    write_report(load_case("short-block", COARSE | {"title": "W" * 200}), path)
    return path


def _browse(page: Path, *words: str) -> str:
    command = [str(BROWSER), *FLAGS, f"--user-data-dir={page.parent / 'profile'}", *words, page.as_uri()]
    return subprocess.run(command, check=True, capture_output=True, timeout=120).stdout.decode("utf-8")


@pytest.mark.parametrize("width", [360, 900, 1400])
def test_it_is_drawn_and_nothing_sticks_out(page: Path, width: int) -> None:
    """The rightmost stripe is the page's margin: white from top to bottom."""
    picture = page.with_suffix(f".{width}.png")
    _browse(page, f"--screenshot={picture}", f"--window-size={width},2000")
    assert_drawn(picture)
    drawn = pixels(picture)
    assert drawn.shape[1] == width
    assert (drawn[:, -6:] > 0.99).all()


MEASURE = """() => {
  document.querySelectorAll("details").forEach(each => { each.open = true; });
  const root = document.documentElement;
  const scrolls = each => each.scrollWidth > each.clientWidth + 1
    && ["auto", "scroll"].includes(getComputedStyle(each).overflowX);
  return {
    inner: innerWidth, scroll: root.scrollWidth, client: root.clientWidth,
    wide: [...document.querySelectorAll("*")].filter(scrolls).map(each => each.getAttribute("aria-label")),
  };
}"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """One browser for all measurements."""
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as started:
        found = started.chromium.launch(executable_path=str(BROWSER), args=FLAGS)
        yield found
        found.close()


@pytest.fixture(scope="module")
def design_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A page of a design with a front, a comparison's and a validation's sisters in form."""
    folder = tmp_path_factory.mktemp("design")
    (folder / "base.toml").write_text('extends = "short-block"\nmesh.level = 0.25\n', encoding="utf-8")
    (folder / "front.toml").write_text(
        'case = "base.toml"\n[aim]\nmaximise = "ceiling"\nagainst = ["mass"]\n'
        '[vary]\nnozzle.longer = ["0 mm", "2 mm"]\n',
        encoding="utf-8",
    )
    path = folder / "design.html"
    path.write_text(page_html(design_shown.page(design(folder / "front.toml"))), encoding="utf-8")
    return path


VERBS = {  # those that write a page, quickly
    "compare": ["compare", "short-block", "long-nozzle-bare-fan", "short-block-petg", "--line", "0.3 mm x 0.6 mm"],
    "curve": ["curve", "short-block", "--measured", "demo-short-block"],
    "reduce": ["reduce", "demo-sleeve", "--resamples", "99"],
    "validate": ["validate", "reduce/ceilings.csv"],
    "trial": ["trial", "short-block", "--line", "0.3 mm x 0.6 mm", "--bed", "220 mm x 220 mm"],
    "explain": ["explain", "short-block"],
}


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The page of each of the `VERBS`, written by its command on a coarse mesh."""
    folder = tmp_path_factory.mktemp("verbs")
    with contextlib.chdir(folder):
        for name, words in VERBS.items():
            coarse = [] if name == "reduce" else ["--set", "mesh.level=0.25"]
            done = CliRunner().invoke(app, [*words, *coarse, "--out", name])
            assert done.exit_code == 0, done.output
    return {name: folder / name / "report.html" for name in VERBS}


@pytest.mark.parametrize("name", VERBS)
def test_no_verb_s_page_scrolls_sideways_on_a_phone(name: str, pages: dict[str, Path], browser: Any) -> None:
    """As below, at the narrowest."""
    found = _measured(browser, pages[name], 360)
    assert found["scroll"] <= found["client"] and not found["wide"], found


def _measured(browser: Any, page: Path, width: int) -> dict[str, Any]:
    shown = browser.new_page(viewport={"width": width, "height": 1500})
    shown.goto(page.as_uri())
    found: dict[str, Any] = shown.evaluate(MEASURE)
    shown.close()
    assert found["inner"] == width
    return found


@pytest.mark.parametrize("width", [360, 900, 1400])
@pytest.mark.parametrize("name", ["page", "design_page"])
def test_nothing_scrolls_sideways(name: str, width: int, request: pytest.FixtureRequest, browser: Any) -> None:
    """Measured by the browser itself with all sections open: neither the page nor any box in it is wider than its room."""
    found = _measured(browser, request.getfixturevalue(name), width)
    assert found["scroll"] <= found["client"] and not found["wide"], found


def test_on_a_phone_the_answer_and_its_picture_come_before_the_inputs(page: Path, browser: Any) -> None:
    """On the first two screens, and the inputs are folded."""
    shown = browser.new_page(viewport={"width": 360, "height": 800})
    shown.goto(page.as_uri())
    answer, picture = (shown.locator(each).first.bounding_box() for each in (".answer", "img"))
    folded = shown.locator("details:not([open])").count()
    inputs = shown.locator("#inputs-head").bounding_box()
    shown.close()
    assert answer["y"] < picture["y"] < 1600.0 < inputs["y"]
    assert folded >= 4


def test_it_prints_on_numbered_pages(page: Path) -> None:
    paper = page.with_suffix(".pdf")
    _browse(page, "--no-pdf-header-footer", f"--print-to-pdf={paper}")
    sheets = [page.extract_text(extraction_mode="layout") for page in pypdf.PdfReader(paper).pages]
    assert 9 <= len(sheets) <= 20, "fewer: something too wide has made all of it small"
    for number, sheet in enumerate(sheets, start=1):
        assert re.search(rf"\b{number} / {len(sheets)}\s*$", sheet), sheet[-200:]
        lines = [line for line in sheet.splitlines() if line.strip()]
        assert lines[-2].strip() not in HEADS, f"a heading alone at the foot of page {number}"
