"""One page in every medium: the same numbers, nothing lost, nothing that outside text can steer; quantities declared once."""

from __future__ import annotations

import re
import subprocess
import sys
from io import StringIO
from typing import Any

import html5lib
import pytest
from outputs import COARSE, solved
from rich.console import Console

import meltzone as mz
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.outputs import compare, sweep
from meltzone.cases.outputs.grid import Bar, Cell, Grid, signed_bars, words
from meltzone.cases.outputs.html import fragment_html, page_html
from meltzone.cases.outputs.markdown import markdown
from meltzone.cases.outputs.page import Answer, Beside, Beware, Cautions, Head, Listing, Page, Section, Warnings, Words
from meltzone.cases.outputs.quantities import chosen, nested, shown
from meltzone.cases.outputs.result import page
from meltzone.cases.outputs.terminal import rendered
from meltzone.cases.studies.result_quantities import RESULT
from meltzone.cases.studies.sweep.work import COLUMNS, KEPT
from meltzone.materials.limits import Finding

FOUND = Finding("warning", "polymer", 480.0, 470.0, "Too hot & <b>bold</b>.")
GRID = Grid(
    "Numbers",
    words("what", "flow [mm³/s]", "share [%]"),
    (
        ("first|column", Cell("12.34", style="strong"), "-5.0"),
        (Cell("below", style="quiet"),),
        (),
        (Cell("key.name", note="noted", badge="badged", code=True), "6.78", Bar(40.0)),
    ),
    notes=("a note",),
)
PAGE = Page(
    (
        Head("A title with [/b] and $x^2$", "some/file.toml", ("one more line",)),
        Answer("Flow ceiling 12.3 mm³/s, melt governs\nThe reason.", "12.3 mm³/s"),
        Beware("Beware of it.", (FOUND,)),
        Words("Words in a paragraph."),
        Section("A part of the page", "Part"),
        Beside((GRID, GRID)),
        Listing('key = "value"', "A listing"),
        Warnings(("a warning",)),
        Cautions((FOUND,)),
    ),
    "kind of page",
)
SAID = ("A title with [/b] and $x^2$", "some/file.toml", "Flow ceiling 12.3 mm³/s", "The reason.", "12.34", "6.78", "noted",
        "badged", "below", "a note", "a warning", "Too hot & <b>bold</b>.", "qualified people")  # fmt: skip


def _terminal(page: Page, width: int = 110) -> str:
    out = StringIO()
    Console(file=out, width=width, markup=False, highlight=False).print(rendered(page))
    return out.getvalue()


def _text_of(html: str) -> str:
    element = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(html)
    return " ".join("".join(element.itertext()).split())


def _of_markdown(text: str) -> str:
    return re.sub(r"\\(.)", r"\1", text)


@pytest.mark.parametrize("medium", ["terminal", "html", "markdown"])
def test_every_medium_says_all_of_it(medium: str) -> None:
    text = {
        "terminal": lambda: _terminal(PAGE),
        "html": lambda: _text_of(page_html(PAGE)),
        "markdown": lambda: _of_markdown(markdown(PAGE)),
    }[medium]()
    for words_said in SAID:
        assert words_said in text, words_said


def test_tables_in_markdown_have_a_cell_for_every_column() -> None:
    rows = [line for line in markdown(PAGE).splitlines() if line.startswith("|")]
    assert len(rows) == 2 * 5
    assert {len(re.findall(r"(?<!\\)\|", row)) for row in rows} == {4}


def test_links_of_a_page_lead_somewhere() -> None:
    html = page_html(PAGE)
    targets = set(re.findall(r'href="#([^"]+)"', html))
    assert targets and targets <= set(re.findall(r'id="([^"]+)"', html))
    assert "part" in targets and "cautions" in targets


def test_a_fragment_is_a_piece_of_html_without_a_head() -> None:
    text = fragment_html(PAGE)
    html5lib.HTMLParser(strict=True).parseFragment(text)
    assert "<html" not in text and "<style" not in text and "12.34" in text


@pytest.mark.parametrize(
    "hostile", ["\x1b[31mred", "\x9b2J", "a\x00b", "<script>x</script>", "[bold]x[/bold]", "{{ 7*7 }}"]
)
def test_text_from_outside_shows_as_it_is_and_steers_nothing(hostile: str) -> None:
    grid = Grid(hostile, words(hostile, "x"), ((hostile, Cell(hostile, note=hostile)),), notes=(hostile,))
    page_of_it = Page((Head(hostile, hostile), Answer(hostile, hostile), grid, Warnings((hostile,)), Words(hostile)))
    plain = re.sub(r"[\x00-\x1f\x7f-\x9f]", "?", hostile)
    html = page_html(page_of_it)
    assert plain in _terminal(page_of_it) and plain in _text_of(html) and plain in _of_markdown(markdown(page_of_it))
    for text in (_terminal(page_of_it), html, markdown(page_of_it)):
        assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f]", text)
    assert "<script>" not in html


@pytest.mark.parametrize("values", [[1.0, 2.0], [3.0, -1.0], [-2.0, -4.0], [0.0]])
def test_signed_bars_share_one_zero_and_stay_in_their_cell(values: list[float]) -> None:
    bars = signed_bars(values)
    zeros = {round(bar.start + (bar.width if bar.loss else 0.0), 9) for bar in bars}
    assert len(zeros) == 1
    assert all(bar.start >= -1e-9 and bar.start + bar.width <= 100.0 + 1e-9 for bar in bars)
    widths = [bar.width for bar in bars]
    assert (
        widths == pytest.approx([widths[0] * value / values[0] for value in map(abs, values)])
        if values[0] > 0
        else True
    )


def test_the_page_of_a_result_shows_the_numbers_of_its_record() -> None:
    result = solved()
    text = _terminal(page(result))
    for quantity in chosen(RESULT, "state.temperature_core_degC", "state.temperature_tip_degC", "state.heater_power_W"):
        assert shown(quantity, result) in text


def test_paths_are_declared_once_and_units_stand_in_names() -> None:
    paths = [quantity.path for quantity in RESULT]
    assert len(paths) == len(set(paths))
    for quantity in RESULT:
        assert quantity.meaning.endswith(".") and (not quantity.heading or "[" not in quantity.heading)
    names = [quantity.name for quantity in COLUMNS]
    assert len(names) == len(set(names))


def test_columns_of_sweeps_and_comparisons_are_quantities_of_results() -> None:
    """What a sweep keeps of a point and what a comparison lays side by side agree with the record of the same result."""
    result = solved()
    record = nested(RESULT, result)
    for quantity in KEPT:
        place: Any = record
        for name in quantity.path.split("."):
            place = place[name]
        value = quantity.read(result)
        assert place == (pytest.approx(value, rel=1e-7) if isinstance(value, float) else value)
    variant = mz.compare(["short-block"], overrides=COARSE).variants[0]
    by_name = {quantity.path: quantity.read(variant) for quantity in compare.KEYS}
    assert by_name["ceiling_mm3_per_s"] == pytest.approx(result.flow_ceiling, rel=1e-9)
    assert by_name["tip_degC"] == pytest.approx(result.tip, rel=1e-9)


def test_a_force_ceiling_has_its_columns_in_a_sweep(tmp_path: Any) -> None:
    file = tmp_path / "grip.toml"
    file.write_text('case = "short-block"\n[vary]\n"mesh.level" = [0.25]\n"feeder.grip" = ["14 N"]\n', encoding="utf-8")
    swept = mz.sweep(file, tmp_path / "grip.sqlite", workers=1)
    [row] = swept.rows
    assert row["governs"] == "force" and row["flow_mm3_per_s"] == row["force_mm3_per_s"] < row["melt_mm3_per_s"]
    assert row["feeding_force_N"] == pytest.approx(14.0, abs=0.05)
    text = _terminal(sweep.page(swept))
    assert "force ceiling [mm³/s]" in text and "feeding force [N]" in text


def test_a_file_named_like_the_lock_of_a_sweep_stays(tmp_path: Any) -> None:
    file, lock = tmp_path / "s.toml", tmp_path / "s.sqlite.lock"
    file.write_text('case = "short-block"\n[vary]\n"mesh.level" = [0.25]\n', encoding="utf-8")
    lock.write_text("of another program", encoding="utf-8")
    with pytest.raises(CaseError, match=r"s\.sqlite\.lock"):
        mz.sweep(file, tmp_path / "s.sqlite", workers=1)
    assert lock.read_text(encoding="utf-8") == "of another program"


def test_the_front_door_offers_every_verb_and_loads_nothing_before() -> None:
    for name in mz.__all__:
        assert callable(getattr(mz, name)), name
    code = "import sys, meltzone; print(sorted({'numpy', 'jinja2', 'matplotlib'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
    with pytest.raises(AttributeError):
        _ = mz.nothing_of_the_kind


def test_verbs_write_their_files_where_a_folder_is_given(tmp_path: Any) -> None:
    found = mz.compare(["short-block"], overrides=COARSE, out=tmp_path / "side")
    assert sorted(path.name for path in (tmp_path / "side").iterdir()) == sorted(compare.OURS)
    assert f"{found.variants[0].result.flow_ceiling:.1f}" in _text_of(
        (tmp_path / "side/report.html").read_text("utf-8")
    )
