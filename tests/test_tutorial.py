"""The tutorial can be followed: its commands, in order, in an empty folder, give what the page says, shows and quotes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from PIL import Image
from regenerate import ALIKE, IMAGES, NUMBER, TUTORIAL, TUTORIAL_PICTURES, Exchange, agrees, exchanges

from meltzone.cases.studies.bench.samples_csv import demo_folder

TEXT = TUTORIAL.read_text(encoding="utf-8")
PROSE = re.sub(r"^```\w*\n.*?^```$", "", TEXT, flags=re.MULTILINE | re.DOTALL)
BOLD = re.compile(r"\*\*(\d+(?:\.\d+)?)(?: [^*]{1,6})?\*\*")
PICTURE = re.compile(r"!\[[^\]]+\]\(images/([^)]+)\)")
FIRST_STEPS = TEXT.partition("## 2.")[0]


class Followed:
    """The exchanges of a whole page, and the sizes of the pictures that its commands drew."""

    def __init__(self, page: Path) -> None:
        self.exchanges: list[Exchange] = []
        self.sizes: dict[str, tuple[int, int]] = {}
        for found in exchanges(page):
            self.exchanges.append(found)
            for name, drawn in TUTORIAL_PICTURES.items():
                if Path(drawn).exists():
                    with Image.open(drawn) as picture:
                        self.sizes[name] = picture.size

    @property
    def faults(self) -> list[str]:
        """What a reader would stumble over: commands that fail, or say something else than the page."""
        return [
            f"$ {each.command}\n{each.given}\n(exit code {each.exit_code})"
            for each in self.exchanges
            if each.exit_code or not agrees(each.quoted, each.given)
        ]


@pytest.fixture(scope="module")
def followed() -> Followed:
    """The tutorial carried out once."""
    return Followed(TUTORIAL)


@pytest.mark.slow
def test_every_command_does_what_the_page_says(followed: Followed) -> None:
    verbs = [each.command.split()[1] for each in followed.exchanges]
    for verb in (
        "new",
        "check",
        "run",
        "plan",
        "reduce",
        "validate",
        "curve",
        "explain",
        "compare",
        "transient",
        "report",
    ):
        assert verb in verbs
    assert not followed.faults, "\n\n".join(followed.faults)


@pytest.mark.slow
def test_every_picture_is_drawn_by_the_commands_and_kept(followed: Followed) -> None:
    shown = PICTURE.findall(TEXT)
    assert sorted(shown) == sorted(TUTORIAL_PICTURES)
    for name in shown:
        with Image.open(IMAGES / name) as kept:
            assert kept.size == pytest.approx(followed.sizes[name], rel=ALIKE), "run: python docs/regenerate.py"


@pytest.mark.slow
def test_bold_numbers_of_the_text_are_those_of_the_output(followed: Followed) -> None:
    printed = {abs(float(number)) for each in followed.exchanges for number in NUMBER.findall(each.given)}
    told = BOLD.findall(PROSE)
    assert len(told) > 10
    for number in told:
        assert any(abs(float(number) - known) <= ALIKE * known for known in printed), number


def test_the_samples_shown_are_those_of_the_demonstration() -> None:
    (shown,) = re.findall(r"^```\n(series.*?)^```$", TEXT, flags=re.MULTILINE | re.DOTALL)
    assert shown in (demo_folder() / "demo-trays.csv").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("$ meltzone check tray.toml", "$ meltzone check trays.toml"),  # a file that no step wrote
        ("--out section.png", "--outt section.png"),
        ("# tray.toml\n", "# other.toml\n"),  # the reader is not told to write it
        ('rating = "30 W"', "rating = 30"),
        ("Setpoint 215 degC", "Setpoint 225 degC"),
        ("2370", "2470"),
    ],
)
def test_a_wrong_page_is_found_out(tmp_path: Path, right: str, wrong: str) -> None:
    page = tmp_path / "page.md"
    page.write_text(FIRST_STEPS, encoding="utf-8")
    assert not Followed(page).faults
    assert right in FIRST_STEPS
    page.write_text(FIRST_STEPS.replace(right, wrong), encoding="utf-8")
    assert Followed(page).faults
