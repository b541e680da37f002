"""What a ceiling that the feeder's grip sets rests on, in a sentence: where the pressure is spent."""

from __future__ import annotations

from meltzone.cases.studies.results import Result


def pushing_sentence(result: Result) -> str:
    """Names the parts of the pressure and what makes pushing easier."""
    pushed = result.pushed
    assert pushed is not None
    shares = {
        "drawing the core into the orifice": pushed.stretching,
        "shear in the bore": pushed.bore,
        "the channels and their entry": pushed.channels + pushed.dividing,
        "shear in the cone": pushed.cone,
        "shear in the capillary": pushed.land,
    }
    shares = {name: part for name, part in shares.items() if part != 0.0}
    told = ", ".join(f"{100.0 * part / pushed.pressure:.0f} % for {name}" for name, part in shares.items())
    return (
        f"Feeding force governs: of {1e-6 * pushed.pressure:.1f} MPa, {told}. A warmer core and a wider orifice "
        "make pushing easier."
    )
