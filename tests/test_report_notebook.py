"""What a notebook shows of a result."""

from __future__ import annotations

import subprocess
import sys

import html5lib
import pytest
from outputs import COARSE, at_flow, solved

import meltzone as mz
from meltzone.cases.outputs.notebook import METHOD, shown
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.run import ceiling


def _parsed(result: Result) -> str:
    text = shown(result)
    html5lib.HTMLParser(strict=True).parseFragment(text)
    return text


def test_a_result_shows_a_table_and_a_small_picture() -> None:
    result = solved()
    text = _parsed(result)
    for number in (f"{result.flow_ceiling:.2f}", f"{result.core:.1f}", f"{result.power:.1f}", result.verdict):
        assert number in text
    assert text.count("<img ") == 1 and 'src="data:image/png;base64,' in text
    assert "qualified people" in text
    assert len(text) < 200_000


def test_a_result_at_a_flow_shows_itself_too() -> None:
    assert "12.00" in _parsed(at_flow())


def test_without_a_ceiling_the_reason_is_shown() -> None:
    text = _parsed(ceiling("short-block", COARSE | {"heater.setpoint": "150 degC"}))
    assert "does not exceed the polymer&#39;s flow temperature" in text and "<img" not in text


def test_notebooks_find_it_by_the_name_that_they_ask_for() -> None:
    """The front door is asked for a verb, and what the verb finds has the method."""
    assert getattr(mz.ceiling("short-block", COARSE), METHOD)().count("<img ") == 1


def test_a_hostile_title_is_escaped() -> None:
    text = _parsed(ceiling("short-block", COARSE | {"title": "<script>x</script>", "heater.setpoint": "150 degC"}))
    assert "<script>" not in text and "&lt;script&gt;" in text


def test_the_plain_form_is_one_line() -> None:
    assert repr(solved()).count("\n") == 0 and "mm³/s" in repr(solved()) and len(repr(solved())) < 400


def test_pictures_and_templates_load_only_when_asked() -> None:
    code = (
        "import sys; from meltzone.cases.studies.results import Result; "
        "print(sorted({'matplotlib', 'jinja2', 'PIL'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_ipython_s_own_formatter_takes_it() -> None:
    formatters = pytest.importorskip("IPython.core.formatters", reason="IPython is not installed")
    data, _ = formatters.DisplayFormatter().format(solved(), include={"text/html", "text/plain"})
    assert data["text/html"] == shown(solved())
    assert len(data["text/plain"]) < 400
