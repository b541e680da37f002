"""A page as HTML that asks for nothing outside of it: standing alone, or as the piece that a notebook shows."""

from __future__ import annotations

import re
from base64 import b64encode
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from io import BytesIO
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, FunctionLoader, StrictUndefined, Template
from markupsafe import Markup

from meltzone.cases.outputs.figures import STYLE
from meltzone.cases.outputs.page import SEVERITY, Block, Cautions, Head, Page, Picture, Section, by_severity
from meltzone.cases.outputs.plain_text import printable
from meltzone.cases.studies.cautions import BURNS, without_deference
from meltzone.materials.limits import DEFERENCE, Finding

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MIME = {"png": "image/png", "svg": "image/svg+xml"}
SMALL = 70  # dots per inch in a notebook
FIRST, CAUTIONS = Section("Answer"), Section("Cautions")


@dataclass
class _Part:
    """A section of the page with its blocks."""

    section: Section
    blocks: list[Block] = field(default_factory=list)

    @property
    def name(self) -> str:
        """The word for it among the links."""
        return self.section.short or self.section.title

    @property
    def id(self) -> str:
        """What links point to."""
        return re.sub(r"[^a-z0-9]+", "-", self.name.lower()).strip("-")


def page_html(page: Page) -> str:
    """The whole page; every word that it is filled with is escaped."""
    filled = {"page": page, "head": page.head, "parts": _parts(page), "style": Markup(_file("page.css"))}
    return _template("page.html.j2").render(filled)


def fragment_html(page: Page) -> str:
    """The blocks alone, pictures small, as a notebook shows them."""
    return _template("fragment.html.j2").render(page=page, head=page.head)


def blocks_html(*blocks: Block) -> str:
    """The `blocks` alone, for a page that is there already."""
    return _template("piece.html.j2").render(blocks=blocks)


def embedded(figure: Figure, format: str = "png", resolution: float | None = None) -> str:
    """`figure` as a data URI, cut to what is drawn, at `resolution` [dots per inch] or its own."""
    from matplotlib import rc_context  # see figures.blank_figure

    held = BytesIO()
    undated = {"Date": None} if format == "svg" else {}
    with rc_context(STYLE):
        figure.savefig(
            held, format=format, dpi=resolution or figure.dpi, metadata=undated, bbox_inches="tight", pad_inches=0.05,
            facecolor="white",
        )  # fmt: skip
    return f"data:{MIME[format]};base64,{b64encode(held.getvalue()).decode('ascii')}"


def _parts(page: Page) -> list[_Part]:
    """The page by its sections: blocks before the first stand below the answer, cautions in a section of their own."""
    parts: list[_Part] = []
    for block in page.blocks:
        if isinstance(block, Head):
            continue
        if isinstance(block, Section):
            parts.append(_Part(block))
            continue
        if isinstance(block, Cautions) and not (parts and parts[-1].name == CAUTIONS.title):
            parts.append(_Part(CAUTIONS))
        if not parts:
            parts.append(_Part(FIRST))
        parts[-1].blocks.append(block)
    return parts


@cache
def _template(name: str) -> Template:
    """A template of this folder; whatever it is filled with is escaped, and a missing word is an error."""
    environment = Environment(
        loader=FunctionLoader(_file), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
        finalize=_clean,
    )  # fmt: skip
    environment.globals.update(burns=BURNS, deference=DEFERENCE)
    environment.filters.update(kind=lambda block: type(block).__name__, embedded=_drawn, by_severity=_listed)
    return environment.get_template(name)


def _clean(value: Any) -> Any:
    return printable(value) if type(value) is str else value


def _file(name: str) -> str:
    return files("meltzone.cases.outputs").joinpath(name).read_text(encoding="utf-8")


def _drawn(picture: Picture, small: bool = False) -> str:
    return embedded(picture.draw(), "png" if small else picture.format, SMALL if small else None)


def _listed(findings: tuple[Finding, ...]) -> list[dict[str, str]]:
    """The findings, the gravest first, in words."""
    texts = [(found.severity, without_deference(found)) for found in by_severity(findings)]
    return [{"severity": s, "word": SEVERITY[s], "text": text[:1].upper() + text[1:]} for s, text in texts]
