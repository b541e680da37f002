"""Hooks of the site: pages that stand above docs/ join it, and links between the two are led to where they are there."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from mkdocs.structure.files import File, Files

ROOT = Path(__file__).resolve().parents[2]
ABOVE = {"README.md": "about.md", "DEVELOPERS.md": "developers.md", "CHANGELOG.md": "changelog.md"}
BARE = re.compile(r"\[([^\]]+)\]\((?:\.\./)?(?:LICENSE|CITATION\.cff)\)")  # linked, but no page
LINK = re.compile(r"\]\(([^)#\s]+)(#[^)]*)?\)")
MATHS = re.compile(r"^```math$", re.MULTILINE)


def on_files(files: Files, config: Any) -> Files:
    """Add the pages that stand above docs/."""
    for name, page in ABOVE.items():
        files.append(File.generated(config, page, content=(ROOT / name).read_text(encoding="utf-8")))
    return files


def on_page_markdown(markdown: str, page: Any, **_: Any) -> str:
    """Lead links from here to there."""
    above = page.file.src_uri in ABOVE.values()

    def led(found: re.Match[str]) -> str:
        target, anchor = found[1], found[2] or ""
        if "://" in target:
            return found[0]
        path = target.removeprefix("docs/") if above and target.startswith("docs/") else target
        path = path if above else path.removeprefix("../")
        return f"]({ABOVE.get(path, path)}{anchor})"

    return LINK.sub(led, BARE.sub(r"\1", MATHS.sub("```", markdown)))
