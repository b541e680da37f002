"""The documents as a site: built strictly, so that no link is broken, with all pages and an index to search."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parent.parent
CONFIG = ROOT / "docs" / "site" / "mkdocs.yml"

mkdocs: Any = pytest.importorskip("mkdocs")


def built(folder: Path, **changes: Any) -> None:
    """Build the site into `folder`; raises mkdocs' Abort on any warning."""
    from mkdocs.commands.build import build
    from mkdocs.config import load_config

    build(load_config(str(CONFIG), site_dir=str(folder), **changes))


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder: Path = tmp_path_factory.mktemp("site")
    built(folder)
    return folder


def test_every_page_is_there_and_can_be_reached(site: Path) -> None:
    start = (site / "index.html").read_text(encoding="utf-8")
    names = {page.stem for page in (ROOT / "docs").glob("*.md")} - {"index"} | {"about", "developers", "changelog"}
    for name in names:
        assert (site / name / "index.html").exists()
        assert f'href="{name}/"' in start, f"{name} is missing in the navigation"
    assert (site / "notebooks" / "calibration.ipynb").exists()
    assert not list(site.rglob("*.py"))


def test_words_are_found(site: Path) -> None:
    index = json.loads((site / "search" / "search_index.json").read_text(encoding="utf-8"))
    texts = {entry["location"].partition("/")[0]: "" for entry in index["docs"]}
    for entry in index["docs"]:
        texts[entry["location"].partition("/")[0]] += entry["text"]
    assert "cold crystallisation" in texts["own-material"]
    assert "Peclet" in texts["theory"]


def test_a_broken_link_stops_the_build(tmp_path: Path) -> None:
    from mkdocs.exceptions import Abort

    pages = tmp_path / "pages"
    pages.mkdir()
    (pages / "index.md").write_text("[gone](nowhere.md)\n", encoding="utf-8")
    with pytest.raises(Abort):
        built(tmp_path / "site", docs_dir=str(pages), nav=None, hooks=[], strict=True)
