"""Answers as plain types for the page: words and tables by the declarations of the outputs, the field as packed arrays."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from typing import Any

import numpy as np

from meltzone.cases.outputs import compare as compared
from meltzone.cases.outputs.explain import budget, drops
from meltzone.cases.outputs.figures import MM, outline_segments
from meltzone.cases.outputs.grid import Column, Grid
from meltzone.cases.outputs.html import blocks_html
from meltzone.cases.outputs.page import Answer, Beside, Cautions, Head, Picture, Warnings
from meltzone.cases.outputs.printing import speeds
from meltzone.cases.outputs.quantities import by_quantity, people, present, rounded, shown
from meltzone.cases.outputs.report.job_text import field_alt
from meltzone.cases.outputs.result import gained, page, width
from meltzone.cases.studies.compare import Comparison
from meltzone.cases.studies.delivery import delivery_of
from meltzone.cases.studies.explain import Explained
from meltzone.cases.studies.result_quantities import CASES, RESULT, shown_in
from meltzone.cases.studies.results import Result
from meltzone.fem.field import Field
from meltzone.materials.units import ZERO_CELSIUS

FEW = 1 << 16  # unknowns that two bytes can number


def answer(explained: Explained) -> dict[str, Any]:
    """Everything that the page shows of one state."""
    result = explained.result
    blocks = [block for block in page(result).blocks if not isinstance(block, Head | Picture)]
    heed = [block for block in blocks if isinstance(block, Warnings | Cautions)]
    said = [block for block in blocks if isinstance(block, Answer)]
    wide = [] if result.band is None else [width(result.band)]
    told = [*heed, *said, *(prints := speeds(result)), *wide]
    tables = [block for block in blocks if block not in told]
    return {
        "title": result.title,
        "answered": result.flow_ceiling is not None,
        "statement": result.verdict,
        "ceiling": rounded(result.flow_ceiling),
        "band": _band(result),
        "said": blocks_html(*said),
        "prints": blocks_html(*prints),
        "tables": blocks_html(*tables),
        "why": _why(explained) + blocks_html(*wide),
        "bottleneck": explained.bottleneck,
        "heed": blocks_html(*heed),
        "numbers": blocks_html(_numbers(result)),
        "tiles": tiles(result),
        "field": None if result.field is None else field(result.field) | {"alt": field_alt(result)},
        "mesh": {"level": result.problem.level, "unknowns": result.system.space.size},
    }


def _band(result: Result) -> Sequence[float] | None:
    return None if result.band is None else [rounded(end) for end in result.band.bounds]


def _why(explained: Explained) -> str:
    """The budget and the way of the temperature; nothing where nothing flows."""
    return "" if explained.explanation is None else blocks_html(Beside((budget(explained), drops(explained))))


def tiles(result: Result) -> list[dict[str, str]]:
    """The numbers that tell cases apart, as short texts: what governs and the flow ceiling stand above them already."""
    told = [each for each in present(shown_in(CASES), [result]) if not each.path.startswith("ceilings.")]
    return [{"name": each.heading, "text": shown(each, result), "unit": people(each.unit)} for each in told]


def _numbers(result: Result) -> Grid:
    """Every quantity of the registry that has a heading and is there."""
    named = [each for each in RESULT if each.heading and each.read(result) is not None]
    grid = by_quantity("", named, [("value", result)])
    return Grid("", (Column("quantity"), Column("value", side="number")), grid.rows)


def field(solved: Field) -> dict[str, Any]:
    """The field on its nine-node cells, packed: heights and radii [mm], temperatures [degC], the part of every cell."""
    space, section = solved.system.space, solved.section
    r, z = MM * space.points
    warm = solved.temperature - ZERO_CELSIUS
    owner = np.zeros(section.mesh.nelements, np.uint8)
    for number, part in enumerate(section.parts):
        owner[section.mesh.subdomains[part]] = number
    arrangement = solved.problem.arrangement
    lower, upper = solved.melt_zone
    return {
        "r": _packed(r, "<f4"), "z": _packed(z, "<f4"), "t": _packed(warm, "<f4"),
        "cells": _packed(space.cells.dofs, "<u2" if space.size < FEW else "<u4"), "wide": space.size >= FEW,
        "part": _packed(owner, "u1"), "parts": list(section.parts),
        "outline": _packed(outline_segments(section), "<f4"),
        "least": float(warm.min()), "most": float(warm.max()),
        "flow_temperature": solved.problem.materials.polymer.flow_temperature - ZERO_CELSIUS,
        "bore": MM * max(radius for _, radius in arrangement.wall.corners),
        "melt_zone": [MM * lower, MM * upper],
        "axis": {"z": _packed(MM * solved.axis.z, "<f4"), "core": _packed(solved.axis.core - ZERO_CELSIUS, "<f4"),
                 "wall_z": _packed(MM * solved.axis.wall_z, "<f4"), "wall": _packed(solved.axis.wall - ZERO_CELSIUS, "<f4")},
    }  # fmt: skip


def _packed(values: np.ndarray, kind: str) -> str:
    return b64encode(np.ascontiguousarray(values, dtype=kind).tobytes()).decode("ascii")


def comparison(found: Comparison) -> dict[str, Any]:
    """Held states side by side: the tables of a comparison, and the predicted curves of delivery."""
    blocks = [block for block in compared.page(found).blocks if not isinstance(block, Head | Picture)]
    curves = [_curve(variant.result) for variant in found.variants]
    return {
        "tables": blocks_html(*blocks),
        "bars": [
            {"name": v.name, "ceiling": rounded(v.result.flow_ceiling), "governs": v.result.governs,
             "gain": "" if v.gain is None else gained(v.gain, v.gained), "band": _band(v.result)}
            for v in found.variants
        ],
        "curves": curves,
    }  # fmt: skip


def _curve(result: Result) -> dict[str, Sequence[float]]:
    commanded, delivered = delivery_of(result).table
    return {"commanded": rounded(commanded.tolist()), "delivered": rounded(delivered.tolist())}
