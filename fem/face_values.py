"""What every facet to the air, and of the cold end, loses: heat over area, surface temperature and film coefficient."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from meltzone.fem.field import Field

LEAST = 1e-6  # of a difference that a film coefficient is told for [K]


@dataclass(frozen=True, eq=False)
class FaceValues:
    """The facets that lose heat: `dofs` (n, 3) from end to end, `cells` (n,) that they bound, `face` (n,) from 1 in `names`.

    Means over a facet's drawn area (n,): `temperature` [K], `loss` [W/m2] as far as the true area sees the air, and
    `film` [W/m2/K], the loss over the difference to the air, radiation included; for the cold end to the heat sink. nan
    where there is no difference.
    """

    names: tuple[str, ...]
    dofs: np.ndarray
    cells: np.ndarray
    face: np.ndarray
    temperature: np.ndarray
    loss: np.ndarray
    film: np.ndarray


def face_values_of(field: Field) -> FaceValues:
    """All faces of `field` in the order of its balance, the cold end last."""
    faces = field.system.faces
    around = field.problem.surroundings
    temperature, loss, film = [], [], []
    for face in faces:
        there, area = face.facets.traces(field.temperature), face.facets.area
        drawn = area.sum(axis=1)
        temperature.append(np.sum(there * area, axis=1) / drawn)
        loss.append(np.sum(face.loss(there) * face.area, axis=1) / drawn)
        above = temperature[-1] - (around.cold_temperature if face.name == "cold end" else around.air_temperature)
        film.append(np.divide(loss[-1], above, out=np.full_like(above, np.nan), where=np.abs(above) > LEAST))
    facets = np.concatenate([face.facets.indices for face in faces])
    return FaceValues(
        names=tuple(face.name for face in faces),
        dofs=np.concatenate([face.facets.dofs for face in faces]),
        cells=field.section.mesh.f2t[0, facets],
        face=np.repeat(np.arange(1, len(faces) + 1), [len(face.facets.indices) for face in faces]),
        temperature=np.concatenate(temperature),
        loss=np.concatenate(loss),
        film=np.concatenate(film),
    )
