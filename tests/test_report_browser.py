"""The report in a real browser, where there is one: its width on a phone, its pages on paper, and no request outside."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pypdf
import pytest
from outputs import COARSE, assert_drawn, pixels

from meltzone.cases.inputs.reader import load_case
from meltzone.cases.outputs.report.page import write_report

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


def _browse(page: Path, *words: str) -> None:
    command = [str(BROWSER), *FLAGS, f"--user-data-dir={page.parent / 'profile'}", *words, page.as_uri()]
    subprocess.run(command, check=True, capture_output=True, timeout=120)


@pytest.mark.parametrize("width", [390, 1200])
def test_it_is_drawn_and_nothing_sticks_out(page: Path, width: int) -> None:
    """The rightmost stripe is the page's margin: white from top to bottom."""
    picture = page.with_suffix(f".{width}.png")
    _browse(page, f"--screenshot={picture}", f"--window-size={width},2000")
    assert_drawn(picture)
    drawn = pixels(picture)
    assert drawn.shape[1] == width
    assert (drawn[:, -6:] > 0.99).all()


def test_it_prints_on_numbered_pages(page: Path) -> None:
    paper = page.with_suffix(".pdf")
    _browse(page, "--no-pdf-header-footer", f"--print-to-pdf={paper}")
    sheets = [page.extract_text(extraction_mode="layout") for page in pypdf.PdfReader(paper).pages]
    assert 9 <= len(sheets) <= 20, "fewer: something too wide has made all of it small"
    for number, sheet in enumerate(sheets, start=1):
        assert re.search(rf"\b{number} / {len(sheets)}\s*$", sheet), sheet[-200:]
        lines = [line for line in sheet.splitlines() if line.strip()]
        assert lines[-2].strip() not in HEADS, f"a heading alone at the foot of page {number}"
