"""The report: valid HTML that asks for nothing outside, holds every number that matters, and escapes whatever it is given."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import html5lib
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from outputs import COARSE

from meltzone.cases.inputs.reader import load_case
from meltzone.cases.outputs.html import page_html
from meltzone.cases.outputs.materials import badge_of
from meltzone.cases.outputs.record import record as record_of
from meltzone.cases.outputs.record_head import inputs_of
from meltzone.cases.outputs.report.page import page as report
from meltzone.cases.outputs.report.property_tables import property_grids, weak_count
from meltzone.cases.studies.explain import Explained, explained_of
from meltzone.cases.studies.run import ceiling, run

FAN = "long-nozzle-brass-sleeve-fan"
TOLERANT = {"heater.setpoint": "210 +/- 3 degC", "contacts.bore_melt": "12000 W/m^2/K +/- 30 %"}
COLD = {"heater.setpoint": "150 degC"}  # below the flow temperature: nothing melts
VOID = {"meta", "link", "img", "br", "hr", "input", "col", "wbr"}
LOADS = {"src", "href", "srcset", "poster", "data", "action"}  # attributes by which a page fetches


@cache
def explained(name: str = "short-block", *pairs: tuple[str, str]) -> Explained:
    """An example on a coarse mesh with its mesh error, explained."""
    return explained_of(run(name, overrides=COARSE | dict(pairs)))


@cache
def page_of(name: str = "short-block", *pairs: tuple[str, str]) -> str:
    return report_page(explained(name, *pairs))


PAGES = {
    "plain": page_of,
    "tolerances": lambda: page_of("short-block", *TOLERANT.items()),
    "sleeve and jet": lambda: page_of(FAN),
    "nothing melts": lambda: page_of("short-block", *COLD.items()),
}
EACH = pytest.mark.parametrize("page", PAGES.values(), ids=PAGES)


class Outline(HTMLParser):
    """Elements with their attributes, the text, and every slip of nesting."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.slips: list[str] = []
        self.words: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep it."""
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)
        if tag == "small":  # a line of its own
            self.words.append(" ")

    def handle_endtag(self, tag: str) -> None:
        """It closes what was opened last."""
        if not self.open or self.open.pop() != tag:
            self.slips.append(tag)

    def handle_data(self, data: str) -> None:
        """Text that people see."""
        if "style" not in self.open:
            self.words.append(data)

    @property
    def text(self) -> str:
        """All of it, blanks made one."""
        return " ".join("".join(self.words).split())

    def all(self, tag: str) -> list[dict[str, str | None]]:
        """Attributes of every element of that name."""
        return [attributes for name, attributes in self.elements if name == tag]


def report_page(found: Explained) -> str:
    return page_html(report(found))


def _result(found: Explained, **case: Any) -> Explained:
    """The same with other words in its case."""
    result = found.result
    model = result.case.model.model_copy(update=case)
    return replace(found, result=replace(result, case=replace(result.case, model=model)))


@EACH
def test_it_is_valid_html(page: Any) -> None:
    """By the parsing algorithm of the HTML standard, in which any slip is an error, and by nesting taken literally."""
    text = page()
    html5lib.HTMLParser(strict=True).parse(text)
    outline = Outline(text)
    assert not outline.slips and not outline.open
    ids = [attributes["id"] for _, attributes in outline.elements if "id" in attributes]
    assert len(ids) == len(set(ids)) > 5
    targets = {(attributes["href"] or "").removeprefix("#") for attributes in outline.all("a")}
    assert targets <= set(ids)
    named = {attributes["aria-labelledby"] for attributes in outline.all("section")}
    assert named <= set(ids)


@EACH
def test_it_is_accessible(page: Any) -> None:
    outline = Outline(page())
    assert outline.all("html") == [{"lang": "en"}]
    assert len(outline.all("h1")) == len(outline.all("main")) == 1
    assert outline.all("img") and all(len(picture["alt"] or "") > 40 for picture in outline.all("img"))
    tables = len(outline.all("table"))
    assert tables == len(outline.all("caption")) == len(outline.all("thead"))
    assert {attributes["scope"] for attributes in outline.all("th")} == {"row", "col"}
    assert all("aria-label" in attributes for _, attributes in outline.elements if attributes.get("role") == "region")


@EACH
def test_it_asks_for_nothing_outside(page: Any) -> None:
    text = page()
    outline = Outline(text)
    for _, attributes in outline.elements:
        for name in LOADS & set(attributes):
            assert re.match(r"#|data:image/(png|svg\+xml);base64,", attributes[name] or ""), attributes[name]
    assert not {"script", "link", "iframe", "object", "embed", "base"} & {name for name, _ in outline.elements}
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL)
    assert style and not re.search(r"url\(|@import|src:", style.group(1))
    assert not re.search(r"https?://", text)


def test_contrast_is_enough() -> None:
    """Contrast ratio of 4.5 at least, by the definition of the Web Content Accessibility Guidelines 2.1, section 1.4.3."""

    def luminance(colour: str) -> float:
        parts = [int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5)]
        red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    style = page_of()
    named = dict(re.findall(r"--(ink|quiet|wash|link): (#[0-9a-f]{6})", style))
    badge = re.search(r"color: (#[0-9a-f]{6}); background: (#[0-9a-f]{6}); white-space", style)
    caution = re.search(r"\.caution \{[^}]*background: (#[0-9a-f]{6})", style)
    assert badge and caution and len(named) == 4
    pairs = [(named[text], "#ffffff") for text in ("ink", "quiet", "link")]
    pairs += [(named["ink"], named["wash"]), (named["link"], caution.group(1)), (badge.group(1), badge.group(2))]
    for text, ground in pairs:
        dark, light = sorted((luminance(text), luminance(ground)))
        assert (light + 0.05) / (dark + 0.05) >= 4.5, (text, ground)


@pytest.mark.parametrize("name", ["short-block", FAN])
def test_the_numbers_of_the_record_appear(name: str) -> None:
    """The record is what result.json holds; the page shows the same numbers to fewer digits."""
    record, text = record_of(explained(name).result), Outline(page_of(name)).text
    state, balance = record["state"], record["balance"]
    expected = [f"{record['ceilings']['flow_mm3_per_s']:.0f} mm³/s", record["ceilings"]["reasons"]["power"]]
    expected += [f"melt {record['ceilings']['melt_mm3_per_s']:.1f} {state['heater_power_W']:.1f} governs"]
    for key in ("core", "inner", "mean", "wall", "tip", "sensor"):
        expected.append(f"{state[f'temperature_{key}_degC']:.1f}")
    expected += [f"{face} {watts:.2f}" for face, watts in balance["faces_W"].items()]
    expected += [f"Heater {balance['heater_W']:.2f} W", f"melt {balance['melt_W']:.2f}"]
    expected += [f"cells {record['mesh']['cells']}", f"unknown temperatures {record['mesh']['unknowns']}"]
    expected += [f"{record['ceilings']['mesh_error_percent']:.2f} %"]
    expected += [
        f"{part} {found['hottest_degC']:.0f}"
        for part, found in record["safety"]["stuck_on_parts"].items()
        if part != "polymer"
    ]
    expected += [caution["text"][1:] for caution in record["cautions"]] + [record["deference"]]
    expected += [f"{library} {number}" for library, number in record["versions"].items()]
    for words in expected:
        assert " ".join(str(words).split()) in text, words


def test_what_limits_it_appears() -> None:
    found, text = explained(), Outline(page_of()).text
    assert found.explanation is not None and found.bottleneck in text
    for name, drop in found.explanation.drops.items():
        assert f"{name} {drop:.1f}" in text
    for name, share in found.explanation.budget.items():
        assert abs(share) < 5e-4 or f"{name} {100 * share:.1f}" in text
    for effect in (*found.strongest("design"), *found.strongest("data")):
        assert (
            " ".join(f"{effect.step} {effect.words} {effect.now} {effect.change:+.2f} {effect.percent:+.1f}".split())
            in text
        )


def test_the_interval_appears_where_tolerances_are_given() -> None:
    found = explained("short-block", *TOLERANT.items()).interval
    text = Outline(page_of("short-block", *TOLERANT.items())).text
    assert found is not None
    low, high = found.bounds
    assert f"95 % of the ceilings lie between {low:.2f} and {high:.2f} mm³/s" in text
    assert "contacts.bore_melt 12000 W/m^2/K +/- " in text.replace("W/m²/K", "W/m^2/K")
    assert "Interval" not in Outline(page_of()).text


def test_inputs_say_where_they_are_written() -> None:
    text = Outline(page_of(FAN)).text
    case = load_case(FAN)
    line = 1 + case.layers[0].text[: case.layers[0].text.index("fan = true")].count("\n")
    assert f"true false {FAN} (shipped example), line {line}" in text
    assert "mesh.level" in text and "override mesh.level = 0.25" in text
    assert "contacts.bore_melt Softened filament to bore wall. 12000 W/m²/K" in text
    assert (
        "contacts.sleeve_thread" in text
        and "contacts.sleeve_thread" not in Outline(page_of()).text.split("How to repeat")[0]
    )


def test_every_source_of_the_cards_appears_and_weak_ones_are_marked() -> None:
    result, page = explained().result, page_of()
    text = Outline(page).text
    polymer = result.problem.materials.polymer
    by_point = {key.partition(" at ")[0] for key in polymer.sources if " at " in key}
    assert by_point and len(polymer.sources) > 20
    for key, source in polymer.sources.items():
        assert key in by_point or " ".join(source.split()) in text
    from_memory = sum("from memory" in source for grid in property_grids(result) for source in _sources(grid))
    assert from_memory > 5
    assert weak_count(property_grids(result))["from memory"] == from_memory
    assert page.count('<strong class="badge">from memory</strong>') == from_memory
    assert f"{from_memory} are marked as from memory" in text


def _sources(grid: Any) -> list[str]:
    return [row[-1].text for row in grid.rows]


@pytest.mark.parametrize(
    ("source", "badge"),
    [
        ("From memory: a handbook", "from memory"),
        ("common practice, no source", "no source"),
        ("", "no source"),
        ("estimate: a slope", "estimate"),
        ("invented for a test", "invented"),
        ("Zmeskal et al. 2020, AIP Conf. Proc. 2305, 020022: 1200", ""),
    ],
)
def test_badges(source: str, badge: str) -> None:
    assert badge_of(source) == badge


def test_a_number_that_the_case_gives_says_so() -> None:
    result = explained("short-block", ("polymer.flow_temperature", "160 degC")).result
    [row] = [row for grid in property_grids(result) for row in grid.rows if row[0] == "flow temperature"]
    assert row[1:] == ("160 degC, 150 degC to 180 degC", 'the case: override polymer.flow_temperature = "160 degC"')


def test_the_case_on_the_page_is_the_case() -> None:
    """What stands under "How to repeat it" reads as the same inputs, tolerances included."""
    found = explained("short-block", *TOLERANT.items())
    [element] = html5lib.parse(page_of("short-block", *TOLERANT.items()), namespaceHTMLElements=False).iter("pre")
    written = tomllib.loads(element.text or "")
    expected = inputs_of(found.result.case)
    assert written["heater"] == expected["heater"] and written["contacts"] == expected["contacts"]
    assert "+/-" in written["heater"]["setpoint"]


def test_where_nothing_melts_the_page_says_why() -> None:
    page = page_of("short-block", *COLD.items())
    text = Outline(page).text
    assert "No ceiling" in text and "does not exceed the polymer's flow temperature" in text
    assert 'id="temperatures"' not in page and 'id="levers"' not in page and 'id="cautions"' in page


def test_where_the_grip_governs_the_page_says_what_pushing_takes() -> None:
    """15 N is less than pushing takes at the melt ceiling, so the force ceiling lies below it."""
    found = explained_of(ceiling("short-block", COARSE | {"feeder.grip": "15 N"}))
    text = Outline(report_page(found)).text
    assert found.result.governs == "force" and found.explanation is not None
    assert found.result.force_ceiling is not None and found.result.melt_ceiling is not None
    assert found.result.force_ceiling < found.result.melt_ceiling
    assert f"force {found.result.force_ceiling:.1f} {found.result.power:.1f} governs" in text
    assert "feeding force [N] 15.0 feeder's grip [N] 15.0" in text and found.bottleneck in text
    assert "The feeder's force is not computed" not in text and "flow resistance of the melt" in text


def test_words_of_own_cards_are_escaped_and_their_sources_shown(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(
        'extends = "short-block"\npolymer.material = "mine"\nheater.setpoint = "150 degC"\nmesh.level = 0.25\n'
        '[materials.mine]\nlike = "pla"\nlabel = "my <b>own</b>"\n'
        '[materials.mine.conductivity]\nvalue = "0.2 W/m/K"\nsource = "invented <i>for</i> a test"\n',
        encoding="utf-8",
    )
    page = report_page(explained_of(run(tmp_path / "own.toml")))
    outline = Outline(page)
    html5lib.HTMLParser(strict=True).parse(page)
    assert not outline.all("i") and not outline.all("b")
    assert "conductivity 0.2 W/m/K invented <i>for</i> a test invented" in outline.text
    assert "My <b>own</b>: filament" in outline.text


def test_like_input_gives_like_pages() -> None:
    assert report_page(explained()) == page_of()


HOSTILE = st.one_of(
    st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=200),
    st.sampled_from(
        [
            "<script>alert(1)</script>",
            "</title></style><h1>x</h1>",
            '"><img src=x onerror=y>',
            "$\\frac{1}{0}$ and $$",
            "{{ 7 * 7 }} {% raw %}",
            "&lt;b&gt; &amp;",
            "-->]]><!--",
            "W" * 200,
        ]
    ),
)


@cache
def _without_pictures(title: str) -> str:
    """The shortest page under another title; its pictures, which carry none and cost most, left empty."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("meltzone.cases.outputs.html.embedded", lambda *_: "data:image/png;base64,")
        return report_page(_result(explained("short-block", *COLD.items()), title=title))


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(HOSTILE)
def test_titles_are_escaped(title: str) -> None:
    """Whatever the title, the page has the same elements, and shows it as it is."""
    page = _without_pictures(title)
    outline = Outline(page)
    html5lib.HTMLParser(strict=True).parse(page)
    assert [name for name, _ in outline.elements] == [name for name, _ in Outline(_without_pictures("usual")).elements]
    assert " ".join(title.split()) in " ".join("".join(outline.words).split())
