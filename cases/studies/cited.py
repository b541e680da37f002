"""The works behind methods and correlations, each with the condition under which a run uses it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from meltzone.fem.problem import Problem
from meltzone.materials.viscosity import CarreauArrhenius, CrossWLF

MEMORY = "details from memory"


@dataclass(frozen=True)
class Work:
    """A work: its `key`, `kind` and `fields` as in BibTeX; `used` says whether the run of a problem rests on it."""

    key: str
    kind: str
    fields: tuple[tuple[str, str], ...]
    used: Callable[[Problem], bool] = lambda _: True


def _article(key: str, author: str, title: str, place: str, used: Callable[[Problem], bool], note: str = "") -> Work:
    """An article at a `place` such as "Journal, 12, 34--56, 1978"."""
    journal, volume, pages, year = place.split(", ")
    rows = {"author": author, "title": title, "journal": journal, "volume": volume, "pages": pages, "year": year}
    return Work(key, "article", tuple(({**rows, "note": note} if note else rows).items()), used)


def _always(_: Problem) -> bool:
    return True


def _jet(problem: Problem) -> bool:
    return problem.surroundings.jet_speed > 0.0


def _pushed(problem: Problem) -> bool:
    polymer = problem.materials.polymer
    return polymer.viscosity is not None and polymer.plateau_modulus is not None


def _law(kind: type) -> Callable[[Problem], bool]:
    return lambda problem: isinstance(problem.materials.polymer.viscosity, kind)


METHODS = (
    _article("gustafsson2020", "Gustafsson, T. and McBain, G. D.", "scikit-fem: A {Python} package for finite element assembly",
             "Journal of Open Source Software, 5, 2369, 2020", _always),
    _article("fritsch1984", "Fritsch, F. N. and Butland, J.",
             "A method for constructing local monotone piecewise cubic interpolants",
             "SIAM Journal on Scientific and Statistical Computing, 5, 300--304, 1984", _always, MEMORY),
    _article("taylor1973", "Taylor, C. and Hood, P.", "A numerical solution of the {Navier-Stokes} equations using "
             "the finite element technique",
             "Computers and Fluids, 1, 73--100, 1973", lambda p: p.operation.profile == "solved", MEMORY),
    _article("giesekus1982", "Giesekus, H.", "A simple constitutive equation for polymer fluids based on the concept of "
             "deformation-dependent tensorial mobility",
             "Journal of Non-Newtonian Fluid Mechanics, 11, 69--109, 1982", _pushed, MEMORY),
    _article("cross1965", "Cross, M. M.", "Rheology of non-{Newtonian} fluids: a new flow equation for pseudoplastic systems",
             "Journal of Colloid Science, 20, 417--437, 1965", _law(CrossWLF), MEMORY),
    _article("williams1955", "Williams, M. L. and Landel, R. F. and Ferry, J. D.", "The temperature dependence of relaxation "
             "mechanisms in amorphous polymers and other glass-forming liquids",
             "Journal of the American Chemical Society, 77, 3701--3707, 1955", _law(CrossWLF), MEMORY),
    _article("carreau1972", "Carreau, P. J.", "Rheological equations from molecular network theories",
             "Transactions of the Society of Rheology, 16, 99--127, 1972", _law(CarreauArrhenius), MEMORY),
)  # fmt: skip
CORRELATIONS = (
    _article("churchill1975", "Churchill, S. W. and Chu, H. H. S.", "Correlating equations for laminar and turbulent free "
             "convection from a vertical plate",
             "International Journal of Heat and Mass Transfer, 18, 1323--1329, 1975", _always,
             "laminar form; " + MEMORY),
    Work("incropera", "book", (("author", "Incropera, F. P. and DeWitt, D. P."),
         ("title", "Fundamentals of Heat and Mass Transfer"),
         ("publisher", "Wiley"), ("note", "horizontal plates; " + MEMORY)), _always),
    _article("churchill1977", "Churchill, S. W. and Bernstein, M.", "A correlating equation for forced convection from "
             "gases and liquids to a circular cylinder in crossflow", "Journal of Heat Transfer, 99, 300--306, 1977", _jet),
)  # fmt: skip
