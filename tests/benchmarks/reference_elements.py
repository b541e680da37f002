"""Assembly and factorisation of an axisymmetric advection-diffusion problem with ngsolve, quadratic elements, any size."""

from __future__ import annotations

import json
import math
import os
import sys
import time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # its BLAS threads only slow the small dense blocks of the factors

import ngsolve as ng
from ngsolve.meshes import MakeStructured2DMesh

CONDUCTIVITY, CARRIED = (
    0.2,
    2000.0,
)  # W/m/K and W/m2/K: a cell Peclet number of about 100 at 10,000 unknowns, as in the case


class Reference:
    """A unit square of squares or triangles with about `unknowns` unknowns; the matrix is unsymmetric as in the case."""

    def __init__(self, unknowns: int, squares: bool, condensed: bool) -> None:
        side = round((math.sqrt(unknowns) - 1.0) / 2.0)
        self.condensed = condensed
        self.mesh = MakeStructured2DMesh(quads=squares, nx=side, ny=side)
        self.space = ng.H1(self.mesh, order=2, dirichlet="top")
        trial, test = self.space.TnT()
        ring = 2.0 * math.pi * ng.x
        self.form = ng.BilinearForm(self.space, condense=condensed)
        self.form += ring * CONDUCTIVITY * ng.grad(trial) * ng.grad(test) * ng.dx
        self.form += -ring * CARRIED * (1.0 - ng.x**2) * ng.grad(trial)[1] * test * ng.dx
        self.form += ring * 15.0 * trial * test * ng.ds("right")

    def assembled_and_factorised(self) -> tuple[float, float]:
        """Seconds of one assembly and of one factorisation by UMFPACK."""
        begun = time.perf_counter()
        self.form.Assemble()
        between = time.perf_counter()
        inverse = self.form.mat.Inverse(self.space.FreeDofs(self.condensed), inverse="umfpack")
        ended = time.perf_counter()
        assert inverse is not None
        return between - begun, ended - between


def best_of(unknowns: int, threads: int, repeats: int) -> dict[str, dict[str, float]]:
    """Least seconds of assembly and of factors for every way of setting it up, on `threads` threads."""
    result = {}
    ng.SetNumThreads(threads)
    for name, squares, condensed in (
        ("squares", True, False),
        ("squares, condensed", True, True),
        ("triangles", False, False),
    ):
        reference = Reference(unknowns, squares, condensed)
        with ng.TaskManager():
            runs = [reference.assembled_and_factorised() for _ in range(repeats)]
        assembly, factors = (min(column) for column in zip(*runs, strict=True))
        result[name] = {"unknowns": reference.space.ndof, "assembly": assembly, "factors": factors}
    return result


if __name__ == "__main__":
    print(json.dumps(best_of(int(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))))
