"""What is shown and written of a transient with its fields: a series of VTU files, and the PVD file that lists their times."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from xml.etree import ElementTree

from meltzone.cases.outputs import transient
from meltzone.cases.outputs.files import Files
from meltzone.cases.outputs.transient import page, record
from meltzone.cases.outputs.vtu import write_vtu
from meltzone.cases.studies.transient import Timed

__all__ = ["OURS", "files", "page", "record"]

MOST = 24  # fields of a series
SERIES = "fields.pvd"
FRAMES = tuple(f"field-{number:02d}.vtu" for number in range(MOST))
OURS = (*transient.OURS, SERIES, *FRAMES)


def files(timed: Timed, folder: Path) -> Files:
    """What goes into `folder`."""
    found = timed.history.fields(MOST)
    chosen = list(zip(FRAMES, found, strict=False))
    series = series_text([(name, time) for name, (time, _) in chosen])
    fields = {name: partial(write_vtu, field) for name, (_, field) in chosen}
    return {**transient.files(timed, folder), SERIES: series, **fields}


def series_text(frames: list[tuple[str, float]]) -> str:
    """A collection in XML that gives each of the `frames`, by the name of its file, its time [s]."""
    root = ElementTree.Element("VTKFile", type="Collection", version="0.1", byte_order="LittleEndian")
    collection = ElementTree.SubElement(root, "Collection")
    for name, time in frames:
        ElementTree.SubElement(collection, "DataSet", timestep=f"{time:.8g}", part="0", file=name)
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="unicode", xml_declaration=True) + "\n"
