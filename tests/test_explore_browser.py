"""The page in a real browser, by clicking: change, keep, compare, sweep, take away, weigh; two tabs, a killed server, keys."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from outputs import pixels

from meltzone.cases.inputs.reader import load_case
from meltzone.cases.outputs.delimited import delimited
from meltzone.cases.studies.bench.samples_csv import load_samples
from meltzone.cases.studies.run import sought

BROWSER = Path("/usr/bin/chromium")
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--disable-background-networking", "--disable-sync"]
PATIENCE = 60_000  # a machine under load [ms]
SETTLED = "body[data-settled=yes]"
SETPOINT, EXPOSED = "#in-heater\\.setpoint", "#in-nozzle\\.exposed"

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not BROWSER.exists(), reason=f"{BROWSER} is not installed"),
]
playwright = pytest.importorskip("playwright.sync_api")


class Server:
    """The command, as a person starts it."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.port = folder, 0
        self.start()

    def start(self, *words: str) -> str:
        """Start it at the port that it had, and give the address that it prints."""
        command = [sys.executable, "-m", "meltzone.cases.commands.cli", "explore", "coarse.toml", "--no-browser"]
        self.process = subprocess.Popen(
            [*command, "--port", str(self.port), *words], cwd=self.folder, stdout=subprocess.PIPE, text=True,
            env=os.environ | {"PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().split()[-1]
        self.port = int(re.findall(r":(\d+)/", self.address)[0])
        return self.address

    def end(self, how: signal.Signals = signal.SIGINT) -> int:
        """End it, and give its exit code."""
        self.process.send_signal(how)
        code = self.process.wait(timeout=20)
        assert self.process.stdout is not None
        self.process.stdout.close()
        return code


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server in a folder with one coarse case."""
    folder = tmp_path_factory.mktemp("folder")
    (folder / "coarse.toml").write_text('extends = "short-block"\ntitle = "Coarse"\n[mesh]\nlevel = 0.25\n')
    found = Server(folder)
    yield found
    if found.process.poll() is None:
        assert found.end() == 0


@pytest.fixture(scope="module")
def context() -> Iterator[Any]:
    """One browser for all."""
    with playwright.sync_playwright() as started:
        browser = started.chromium.launch(executable_path=str(BROWSER), args=FLAGS)
        found = browser.new_context(viewport={"width": 1400, "height": 1000}, accept_downloads=True)
        found.set_default_timeout(PATIENCE)
        yield found
        browser.close()


@pytest.fixture
def page(server: Server, context: Any) -> Iterator[Any]:
    """The page, solved; nothing but this machine is asked, and no script fails."""
    found, faults, asked = context.new_page(), [], []
    found.on("pageerror", lambda error: faults.append(str(error)))
    found.on("request", lambda request: asked.append(request.url))
    found.goto(server.address)
    found.wait_for_selector(SETTLED)
    yield found
    assert not faults
    assert all(url.startswith((server.address, "blob:", "data:")) for url in asked)
    found.evaluate("() => localStorage.clear()")
    found.close()


def _ceiling(page: Any) -> float:
    page.wait_for_selector(SETTLED)
    return float(page.title().split()[0])


def _type(page: Any, place: str, text: str) -> None:
    page.fill(place, text)
    page.press(place, "Enter")


def _expected(**overrides: Any) -> float:
    found = sought(
        "short-block", {"mesh.level": 0.25} | {key.replace("__", "."): each for key, each in overrides.items()}
    )
    assert found.flow_ceiling is not None
    return found.flow_ceiling


def test_a_changed_value_is_answered_undone_and_kept_in_the_link(page: Any, context: Any) -> None:
    first = _ceiling(page)
    assert first == pytest.approx(_expected(), abs=0.051)
    _type(page, SETPOINT, "235 degC")
    hot = _ceiling(page)
    assert hot == pytest.approx(_expected(heater__setpoint="235 degC"), abs=0.051)
    assert "heater stuck on" in page.inner_text("#heed").lower()
    link = page.url
    page.keyboard.press("Escape")
    page.click("#undo")
    assert _ceiling(page) == first
    page.click("#redo")
    assert _ceiling(page) == hot
    other = context.new_page()
    other.goto(link)
    assert _ceiling(other) == hot, "the link holds the state, in another tab"
    _type(other, SETPOINT, "220 degC")
    assert first < _ceiling(other) < hot == _ceiling(page), "two tabs do not mix"
    other.close()


def test_impossible_input_shows_its_error_at_its_field_and_greys_the_last_answer(page: Any) -> None:
    before = page.inner_text("#said")
    _type(page, EXPOSED, "90 mm")
    page.wait_for_selector("#fault:not([hidden])")
    assert "less than the nozzle's length" in page.inner_text("[data-key='nozzle.exposed'] .row-fault")
    assert page.get_attribute(EXPOSED, "aria-invalid") == "true"
    assert "expected: less than the nozzle's length" in page.inner_text("#fault")
    assert page.inner_text("#said") == before
    assert float(page.evaluate("() => getComputedStyle(document.querySelector('.hero')).opacity")) < 0.6
    assert page.evaluate("() => getComputedStyle(document.querySelector('#heed')).opacity") == "1", "cautions stay"
    _type(page, EXPOSED, "6 mm")
    page.wait_for_selector("#fault", state="hidden")
    assert _ceiling(page) == pytest.approx(_expected(nozzle__exposed="6 mm"), abs=0.051)


def test_parts_come_and_go_and_materials_are_chosen_from_the_cards(page: Any) -> None:
    bare = _ceiling(page)
    page.click("[data-table=wrap] .part")
    assert _ceiling(page) == pytest.approx(_expected(wrap={}), abs=0.051)
    page.click("[data-table=wrap] .part")
    assert _ceiling(page) == bare
    page.select_option("#in-polymer\\.material", "petg")
    assert _ceiling(page) == pytest.approx(_expected(polymer__material="petg"), abs=0.051)
    page.fill("#find", "jet")
    shown = page.locator(".row-in:visible").all()
    assert 1 <= len(shown) <= 6, "a search folds all else away"


def test_kept_states_stand_side_by_side_and_come_back_after_the_tab_was_closed(
    page: Any, context: Any, server: Server
) -> None:
    page.click("#keep")
    _type(page, SETPOINT, "235 degC")
    page.wait_for_selector(SETTLED)
    page.click("#keep")
    page.wait_for_selector("#compared table")
    told = page.inner_text("#bars")
    gain = 100.0 * (_expected(heater__setpoint="235 degC") / _expected() - 1.0)
    assert re.search(rf"\+{gain:.0f} % \(\+\d+ to \+\d+\), melt", told.replace("\n", " ")), told
    page.wait_for_selector("#curves path >> nth=1", state="attached")
    assert page.locator("#curves path").count() == 2
    again = context.new_page()
    again.goto(server.address)
    again.wait_for_selector("#kept li >> nth=1")
    again.close()


def test_a_sweep_is_drawn_as_it_arrives(page: Any) -> None:
    page.click("[data-key='heater.setpoint'] [title*='over its range']")
    page.wait_for_selector("#range circle")
    page.wait_for_selector("#range[data-done='heater.setpoint']")
    assert page.locator("#range circle").count() >= 12
    assert "now" in page.inner_text("#range")
    told = page.inner_text("#range-told")
    assert re.match(r"\d+ solved, done; cannot be: 1\d\d degC", told), "at the polymer's flow temperature nothing melts"


def test_the_section_is_read_and_zoomed(page: Any) -> None:
    box = page.locator("#section").bounding_box()
    page.locator("#section").scroll_into_view_if_needed()
    box = page.locator("#section").bounding_box()
    page.mouse.move(box["x"] + 0.2 * box["width"], box["y"] + 0.55 * box["height"])
    warm, part = re.fullmatch(r"([\d.]+) degC, (.+)", page.inner_text("#probe")).groups()  # type: ignore[union-attr]
    assert part == "block" and float(warm) == pytest.approx(209.5, abs=1.5)
    whole = page.locator("#section").screenshot()
    page.mouse.down()
    page.mouse.move(box["x"] + 0.6 * box["width"], box["y"] + 0.8 * box["height"])
    page.mouse.up()
    assert page.get_attribute("#view-whole", "aria-pressed") == "false"
    assert page.locator("#section").screenshot() != whole
    page.focus("#section")
    page.keyboard.press("Escape")
    assert page.get_attribute("#view-whole", "aria-pressed") == "true"
    page.keyboard.press("ArrowUp")
    assert "filament" in page.inner_text("#probe"), "by keys too: it begins on the axis"


def test_what_leaves_can_be_used(page: Any, tmp_path: Path) -> None:
    _type(page, SETPOINT, "222 degC")
    page.wait_for_selector(SETTLED)
    for what, name in (
        ("case", "coarse.toml"),
        ("record", "result.json"),
        ("picture", "coarse.png"),
        ("report", "coarse.html"),
    ):
        with page.expect_download() as found:
            page.click(f"[data-take={what}]")
        assert found.value.suggested_filename == name
        found.value.save_as(tmp_path / name)
    assert load_case(tmp_path / "coarse.toml").model.heater.setpoint == pytest.approx(495.15)
    assert "Levers" in (tmp_path / "coarse.html").read_text()
    page.click("#call")
    assert page.input_value("#copied") == 'meltzone run coarse.toml --set "heater.setpoint=222 degC"'


def test_keys_alone_will_do(page: Any) -> None:
    """From the top by Tab to the first link, by / to the search, by Tab into the form, a natural step by arrow, K to keep."""
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.className") == "skip"
    page.keyboard.press("/")
    page.keyboard.type("setpoint")
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.id") == "in-heater.setpoint"
    page.keyboard.press("ArrowUp")
    page.wait_for_selector("#changed li >> nth=1")
    assert _ceiling(page) == pytest.approx(_expected(heater__setpoint="220 degC"), abs=0.051)
    page.keyboard.press("Control+z")
    page.wait_for_selector("#changed li", state="detached")
    page.keyboard.press("k")
    page.wait_for_selector("#kept li")
    assert page.locator("#kept li").count() == 1


def test_everything_that_takes_input_has_a_name(page: Any) -> None:
    nameless = page.evaluate(
        """() => [...document.querySelectorAll('input, select, button, canvas, svg[role=img], textarea')].filter((e) =>
        !(e.getAttribute('aria-label') || e.textContent.trim() || (e.labels && e.labels.length))).map((e) => e.outerHTML)"""
    )
    assert nameless == []


@pytest.mark.parametrize("width", [360, 900, 1400, 1800])
def test_nothing_sticks_out_in_light_dark_and_print(page: Any, width: int, tmp_path: Path) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.wait_for_timeout(100)
    assert page.evaluate("() => document.documentElement.scrollWidth") <= width
    for light in ("light", "dark"):
        page.evaluate(f"() => {{ document.documentElement.dataset.light = '{light}' }}")
        picture = tmp_path / f"{light}.png"
        page.screenshot(path=picture)
        corner = pixels(picture)[-3:, :3].mean()
        assert corner > 0.9 if light == "light" else corner < 0.2
    page.emulate_media(media="print")
    assert not page.is_visible("#form") and page.is_visible("#said") and page.is_visible("#heed")


def test_at_the_bench_every_mass_is_on_disk_and_survives_a_killed_server(page: Any, server: Server) -> None:
    name = "bench-coarse.csv"
    page.set_viewport_size({"width": 390, "height": 800})
    page.on("dialog", lambda dialog: dialog.accept(name))
    page.click("#lay-out")
    page.wait_for_selector("#next-card:not([hidden])")
    assert (
        "burn skin" in page.inner_text("#cautions")
        and page.evaluate("() => document.documentElement.scrollWidth") <= 390
    )
    for mass in ("1.5", "1,6"):
        page.fill("#mass", mass)
        page.press("#mass", "Enter")
        page.wait_for_selector("#saved:has-text('on disk')")
        page.wait_for_selector("#mass:focus")
    samples = load_samples(server.folder / name).series[0].samples
    assert sorted(each.mass for each in samples) == pytest.approx([1.5e-3, 1.6e-3])
    server.end(signal.SIGKILL)
    page.fill("#mass", "1.7")
    page.press("#mass", "Enter")
    page.wait_for_selector("#saved:has-text('not on disk yet')")
    page.goto("about:blank")  # the tab is closed before it could be sent
    page.goto(server.start() + f"bench#{name}")
    page.wait_for_selector("#next-title:has-text('number 4')")
    assert len(load_samples(server.folder / name).series[0].samples) == 3
    page.fill("#mass", "oops")
    page.press("#mass", "Enter")
    page.wait_for_selector("#fault:not([hidden])")
    assert page.inner_text("#next-title").startswith("Next: number 4")


def test_the_curve_grows_to_onset_ceiling_and_advice(page: Any, server: Server) -> None:
    """A sheet whose masses are those of a delivery that keeps to 11 mm3/s, with a little noise."""
    rows = [
        [
            k + 1,
            1,
            flow,
            1000,
            round(min(flow, 11.0) * 1.24e-3 * 1000 * 2.4053 / flow * (1 + 0.004 * (-1) ** k), 4),
            1.24,
            1.75,
        ]
        for k, flow in enumerate([4.0, 6.0, 8.0, 9.0, 10.0, 12.0, 13.0, 14.0, 16.0, 18.0] * 2)
    ]
    head = ["order", "round", "commanded [mm^3/s]", "length [mm]", "mass [g]", "density [g/cm^3]", "diameter [mm]"]
    rows[-1][4] = ""
    last = round(11.0 * 1.24e-3 * 1000 * 2.4053 / 18.0, 4)
    (server.folder / "known.csv").write_text(delimited(head, rows))
    page.goto(server.address + "bench#known.csv")
    page.wait_for_selector("#found div")
    page.fill("#mass", str(last))
    page.press("#mass", "Enter")
    page.wait_for_selector("#next-title:has-text('All weighed')")
    page.wait_for_selector("#curve circle >> nth=19", state="attached")  # drawn once its masses are reduced
    page.wait_for_selector(SETTLED)
    found = page.inner_text("#found")
    value = re.search(r"ceiling \[mm³/s\]\s+([\d.]+)", found)
    assert value, found
    assert float(value.group(1)) == pytest.approx(11.0, rel=0.01)
    assert page.inner_text("#advice")


def test_shared_it_asks_for_the_token(server: Server, context: Any) -> None:
    server.end()
    address = server.start("--share")
    page = context.new_page()
    assert page.goto(address).status == 200
    page.wait_for_selector(SETTLED)
    assert page.goto(f"http://127.0.0.1:{server.port}/").status == 403
    page.close()
