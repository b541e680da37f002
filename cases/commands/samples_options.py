"""The options of the commands that read weighed samples, and what they come to; nothing slow loads with them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from meltzone.cases.inputs.tolerance import Toleranced

ResolutionOption = Annotated[
    str | None,
    typer.Option(
        "--balance-resolution",
        metavar="MASS",
        help='Last digit of the balance; "0.01 g" unless the table says otherwise.',
        show_default=False,
    ),
]
RepeatabilityOption = Annotated[
    str | None,
    typer.Option(
        "--balance-repeatability",
        metavar="MASS",
        help="Standard deviation of one weighing; one step of the last digit if left out.",
        show_default=False,
    ),
]
DiameterOption = Annotated[
    str | None,
    typer.Option(
        "--diameter",
        metavar="LENGTH",
        help='Measured diameter of the filament, as in "1.74 +/- 0.01 mm".',
        show_default=False,
    ),
]
DensityOption = Annotated[
    str | None,
    typer.Option(
        "--density",
        metavar="DENSITY",
        help='Density of the solid filament, as in "1.24 g/cm^3 +/- 0.5 %".',
        show_default=False,
    ),
]
TrayOption = Annotated[
    str | None,
    typer.Option(
        "--tray", metavar="MASS", help="Empty tray that every mass of the table includes.", show_default=False
    ),
]
ColumnsOption = Annotated[
    str | None,
    typer.Option(
        "--columns",
        metavar="HEADINGS",
        help='Which column of the table is which, in their order, - for one to read over: "Flow; Length; -; Weight".',
        show_default=False,
    ),
]


def filament_given(density: str | None, diameter: str | None) -> tuple[Toleranced | None, Toleranced | None]:
    """Density [kg/m3] and diameter [m] where they are given; raises CaseError."""
    from meltzone.cases.studies.bench.quantities import toleranced_option
    from meltzone.materials.units import DENSITY, LENGTH

    return (
        None if density is None else toleranced_option("--density", density, DENSITY.within(500.0, 10_000.0)),
        None if diameter is None else toleranced_option("--diameter", diameter, LENGTH.within(0.5e-3, 6e-3)),
    )


def balance_given(resolution: str | None, repeatability: str | None) -> tuple[float | None, float | None]:
    """Resolution and repeatability [kg] where they are given; raises CaseError."""
    given = {"--balance-resolution": resolution, "--balance-repeatability": repeatability}
    found = [_mass(name, text, 1e-9, 1e-2) for name, text in given.items()]
    return found[0], found[1]


def tray_given(tray: str | None) -> float | None:
    """Mass of the tray [kg] where it is given; raises CaseError."""
    return _mass("--tray", tray, 0.0, 10.0)


def _mass(name: str, text: str | None, least: float, most: float) -> float | None:
    from meltzone.cases.studies.bench.quantities import option
    from meltzone.materials.units import MASS

    return None if text is None else option(name, text, MASS.within(least, most))
