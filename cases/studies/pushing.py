"""What a ceiling that the feeder's grip sets rests on, in a sentence: where the pressure is spent."""

from __future__ import annotations

from meltzone.cases.studies.results import Result


def pushing_sentence(result: Result) -> str:
    """Names the parts of the pressure; derivatives by the inputs are not worked out for this ceiling, which it says."""
    pushed = result.pushed
    assert pushed is not None
    shares = {"bore": pushed.bore, "channels": pushed.channels, "cone": pushed.cone, "capillary": pushed.land}
    shares = {name: part for name, part in shares.items() if part != 0.0}
    told = ", ".join(f"{100.0 * part / pushed.pressure:.0f} % in the {name}" for name, part in shares.items())
    return (
        f"Feeding force governs: of {1e-6 * pushed.pressure:.1f} MPa, {told}. A hotter melt, a wider orifice or a shorter "
        "capillary makes pushing easier, a longer melt zone at the same temperature harder. Levers and budget are worked out "
        "for melt and power ceilings only: try a change by solving the changed case."
    )
