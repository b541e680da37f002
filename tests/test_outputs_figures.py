"""The pictures: drawn, not blank, not smeared across contacts, and showing what they are there to show."""

from __future__ import annotations

from pathlib import Path

import matplotlib
import numpy as np
import pytest
from matplotlib.colors import to_rgb
from outputs import assert_drawn, at_flow, pixels, solved

from meltzone.cases.outputs.axis_figure import axis_figure
from meltzone.cases.outputs.bars_figure import COLOURS, Bar, bar_of, bars_figure
from meltzone.cases.outputs.check import check
from meltzone.cases.outputs.field_figure import ISOTHERM, field_figure
from meltzone.cases.outputs.figures import HEAT, outline_segments, save, triangles
from meltzone.cases.outputs.materials import card
from meltzone.cases.outputs.materials_figure import curves_figure
from meltzone.fem.field import Field
from meltzone.materials.library import names

NAMES = ("short-block", "long-nozzle-wrapped-fan", "short-block-boot")


def _field(name: str = "short-block") -> Field:
    field = solved(name).field
    assert field is not None
    return field


def _share_of(picture: np.ndarray, colour: str) -> float:
    """Share of the pixels within a hair of `colour`."""
    return float(np.mean(np.all(np.abs(picture - to_rgb(colour)) < 0.04, axis=2)))


def _texts(figure: object) -> str:
    found = [text.get_text() for text in figure.findobj(matplotlib.text.Text)]  # type: ignore[attr-defined]
    return "\n".join(found)


@pytest.mark.parametrize("name", NAMES)
def test_field_picture(name: str, tmp_path: Path) -> None:
    result, path = solved(name), tmp_path / "field.png"
    figure = field_figure(_field(name), result.title, result.verdict)
    save(figure, path)
    assert_drawn(path, share=0.15)
    picture = pixels(path)
    assert _share_of(picture, ISOTHERM) > 2e-4
    cold, hot = (matplotlib.colormaps[HEAT](end)[:3] for end in (0.0, 1.0))
    assert _share_of(picture, cold) > 0.005 and _share_of(picture, hot) > 0.005
    words = _texts(figure)
    assert result.title in words and f"{result.flow_ceiling:.1f} mm³/s, melt governs" in words
    assert "temperature [degC]" in words and "radius [mm]" in words
    assert "flow temperature\n158 degC" in words  # the card's value


def test_section_is_drawn_to_scale_and_mirrored() -> None:
    figure = field_figure(_field(), "", "")
    section = figure.axes[0]
    figure.draw_without_rendering()
    (x0, y0), (x1, y1) = section.transData.transform([(0.0, 0.0), (1.0, 1.0)])
    assert x1 - x0 == pytest.approx(y1 - y0, rel=1e-6)
    left, right = section.get_xlim()
    assert left == -right


def test_triangles_cover_the_section_once_and_keep_to_their_part() -> None:
    """Area of the triangles against that of the quadrilaterals; no triangle joins the nodes of two sides of a contact."""
    field = _field()
    mesh, space = field.section.mesh, field.system.space
    r, z = mesh.p[:, mesh.t]
    cells = 0.5 * np.abs((r[2] - r[0]) * (z[3] - z[1]) - (r[3] - r[1]) * (z[2] - z[0]))
    for side in (1, -1):
        drawn = triangles(field, side)
        x, y = drawn.x[drawn.triangles], drawn.y[drawn.triangles]
        areas = 0.5 * ((x[:, 1] - x[:, 0]) * (y[:, 2] - y[:, 0]) - (x[:, 2] - x[:, 0]) * (y[:, 1] - y[:, 0]))
        assert np.all(areas > 0.0)
        assert areas.sum() == pytest.approx(1e6 * cells.sum(), rel=1e-9)
    within = np.zeros(len(drawn.triangles), dtype=bool)
    for part in field.section.parts:
        within |= np.isin(drawn.triangles, space.dofs_of(part)).all(axis=1)
    assert within.all()


def test_outline_of_the_block_is_where_the_drawing_puts_it() -> None:
    segments = outline_segments(_field().section)
    flat = np.abs(segments[:, 0, 1] - segments[:, 1, 1]) < 1e-9
    top = segments[flat & (np.abs(segments[:, 0, 1] - 16.5) < 1e-9)]  # 5 mm below, 11.5 mm tall
    assert top[..., 0].max() == pytest.approx(np.sqrt(23.0 * 16.0 / np.pi), rel=1e-6)  # disc of the box's area
    assert not np.any(np.all(np.abs(segments[..., 0]) < 1e-9, axis=1)), "the axis is no edge"


@pytest.mark.parametrize("name", NAMES)
def test_axis_picture(name: str, tmp_path: Path) -> None:
    result, path = solved(name), tmp_path / "axis.png"
    figure = axis_figure(_field(name), result.title, result.verdict)
    save(figure, path)
    assert_drawn(path)
    words = _texts(figure)
    for part in ("heat break", "block", "cone", "land", "melt zone,", "setpoint 210", "flow temperature 158"):
        assert part in words
    lines = [line.get_xydata() for line in figure.axes[0].lines if len(line.get_xdata()) > 20]
    wall, core = lines
    assert wall[:, 1].max() > core[:, 1].max()
    assert core[np.argmin(np.abs(core[:, 0] - 0.6)), 1] == pytest.approx(result.core, abs=1e-6)


def test_pictures_of_a_flow_that_does_not_melt(tmp_path: Path) -> None:
    result = at_flow("short-block", "30 mm^3/s")
    assert result.field is not None
    for number, make in enumerate((field_figure, axis_figure)):
        path = tmp_path / f"{number}.png"
        save(make(result.field, result.title, result.verdict), path)
        assert_drawn(path)
    assert "does not melt through" in result.verdict


def test_section_picture(tmp_path: Path) -> None:
    path = tmp_path / "section.png"
    checked = check("long-nozzle-brass-sleeve", path)
    assert_drawn(path, share=0.15)
    assert checked.materials["sleeve"].startswith("brass")


def test_bars_have_the_length_of_the_ceilings(tmp_path: Path) -> None:
    weak = Bar("weak", "power", {"melt": 15.0, "power": 9.0})
    bars = [*(bar_of(solved(name)) for name in NAMES), weak, Bar("cold", "none", {})]
    figure = bars_figure(bars)
    drawn = [patch.get_width() for patch in figure.axes[0].patches]
    assert drawn == pytest.approx([bar.ceiling for bar in bars])
    save(figure, tmp_path / "bars.png")
    picture = pixels(tmp_path / "bars.png")
    assert _share_of(picture, COLOURS["melt"]) > 0.05 and _share_of(picture, COLOURS["power"]) > 0.01
    assert "no ceiling" in _texts(figure)


@pytest.mark.parametrize("name", names())
def test_material_curves(name: str, tmp_path: Path) -> None:
    path = tmp_path / f"{name}.png"
    save(curves_figure(card(name)), path)
    assert_drawn(path, share=0.01)


@pytest.mark.parametrize("ending", [".png", ".svg", ".pdf"])
def test_like_input_gives_like_files(ending: str, tmp_path: Path) -> None:
    for name in ("a", "b"):
        save(curves_figure(card("pla")), tmp_path / f"{name}{ending}")
    assert (tmp_path / f"a{ending}").read_bytes() == (tmp_path / f"b{ending}").read_bytes()


def test_no_global_state() -> None:
    import sys

    field_figure(_field(), "", "")
    assert "matplotlib.pyplot" not in sys.modules
