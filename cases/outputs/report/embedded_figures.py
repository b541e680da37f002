"""Pictures as data URIs, so that one file holds all of them; without the titles that the page has as headings."""

from __future__ import annotations

from base64 import b64encode
from io import BytesIO
from typing import TYPE_CHECKING

from meltzone.cases.outputs.axis_figure import axis_figure
from meltzone.cases.outputs.field_figure import field_figure
from meltzone.cases.outputs.section_figure import section_figure
from meltzone.cases.studies.cautions import materials_by_part
from meltzone.cases.studies.results import Result
from meltzone.fem.heater import powered_blocks

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SALT = "meltzone"  # the same names inside every picture: like input gives like files
FORMATS = {"png": "image/png", "svg": "image/svg+xml"}
SMALL = 70  # dots per inch in a notebook


def section_picture(result: Result) -> str:
    """Parts and mesh."""
    materials = {part: material.label for part, material in materials_by_part(result.problem).items()} | {"gap": "air"}
    return embedded(section_figure(result.system.space.section, "", materials, powered_blocks(result.problem)))


def field_picture(result: Result, resolution: float | None = None) -> str:
    """The temperature field, at `resolution` [dots per inch] or the usual one."""
    assert result.field is not None
    return embedded(field_figure(result.field, "", ""), resolution=resolution)


def passage_picture(result: Result) -> str:
    """Core and wall along the passage, as lines that stay sharp."""
    assert result.field is not None
    return embedded(axis_figure(result.field, "", ""), "svg")


def embedded(figure: Figure, format: str = "png", resolution: float | None = None) -> str:
    """`figure` as a data URI, cut to what is drawn."""
    from matplotlib import rc_context  # noqa: PLC0415  see figures.blank_figure

    held = BytesIO()
    undated = {"Date": None} if format == "svg" else {}
    with rc_context({"svg.hashsalt": SALT}):
        figure.savefig(
            held,
            format=format,
            dpi=resolution or figure.dpi,
            metadata=undated,
            bbox_inches="tight",
            pad_inches=0.05,
            facecolor="white",
        )
    return f"data:{FORMATS[format]};base64,{b64encode(held.getvalue()).decode('ascii')}"
