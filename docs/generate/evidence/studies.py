"""What the validation page shows besides the default model: criteria, profiles, contacts, threads, the speed of the jet."""

from __future__ import annotations

from dataclasses import dataclass, field

from meltzone.cases.studies.calibration.row_cases import Overrides
from meltzone.cases.studies.run import ceiling, solve
from meltzone.cases.studies.validation.outcome import Validation
from meltzone.cases.studies.validation.validate import validate
from meltzone.fem.progress import Reporter
from meltzone.materials.units import ZERO_CELSIUS

PRACTICE = "hot-ends-in-practice"
# A finite-difference solution of the M6 x 1 profile under still air gives the flux of a smooth cylinder 0.12 mm below
# the crests, at all film coefficients from 20 to 170 W/m2/K: over the cylinder through the crests [-]
ENVELOPE = 0.96


@dataclass(frozen=True)
class Variant:
    """Another model: its `label`, the number that is freed, and what it changes in every row, or in one by one."""

    label: str
    free: str = "contacts.bore_melt"
    overrides: Overrides = field(default_factory=dict)


def _thread(conductance: str) -> Overrides:
    return {"contacts.thread": conductance, "contacts.sleeve_thread": conductance}


FLOW_TEMPERATURE = "polymer.flow_temperature"
COARSE = {"mesh.level": 0.25}  # moves a ceiling with the solved velocity by 1e-4 at most, at a third of the time
VARIANTS = (
    Variant("default: innermost 10 %, plug, thread 8000, smooth"),
    Variant("default, flow temperature freed instead", FLOW_TEMPERATURE),
    Variant("innermost 5 %", overrides={"polymer.inner_share": 0.05}),
    Variant("innermost 20 %", overrides={"polymer.inner_share": 0.2}),
    Variant("core (axis)", overrides={"polymer.criterion": "core"}),
    Variant("core (axis), flow temperature freed", FLOW_TEMPERATURE, {"polymer.criterion": "core"}),
    Variant("mean", overrides={"polymer.criterion": "mean"}),
    Variant("mean, flow temperature freed", FLOW_TEMPERATURE, {"polymer.criterion": "mean"}),
    Variant("power-law profile, n = 0.4", overrides={"polymer.profile": "power-law"}),
    Variant("power-law profile, flow temperature freed", FLOW_TEMPERATURE, {"polymer.profile": "power-law"}),
    Variant("profile shaped by viscosity", overrides={"polymer.profile": "shaped"}),
    Variant("profile shaped, flow temperature freed", FLOW_TEMPERATURE, {"polymer.profile": "shaped"}),
    Variant("velocity solved, flow temperature freed", FLOW_TEMPERATURE, {"polymer.profile": "solved", **COARSE}),
    Variant("thread 3200 W/m²/K", overrides=_thread("3200 W/m^2/K")),
    Variant("bare thread resolved as rings", overrides={"nozzle.exposed_thread": "rings"}),
    Variant("bare thread loses heat by its envelope", overrides={"surroundings.thread_area": ENVELOPE}),
)


@dataclass(frozen=True)
class JetRow:
    """Predicted changes by the fan [%] at one speed [m/s]: of the short block and of the long nozzle bare."""

    speed: float
    short: float
    bare: float


@dataclass(frozen=True)
class ThreadPair:
    """Ceiling [mm3/s] of one example with the bare thread smooth and as rings."""

    case: str
    smooth: float
    rings: float

    @property
    def change(self) -> float:
        """Rings over smooth, less one [%]."""
        return 100.0 * (self.rings / self.smooth - 1.0)


@dataclass(frozen=True)
class PowerCheck:
    """Heat that the polymer carries off at a `flow` [mm3/s]: from the solve and, had all of it reached the setpoint [W].

    `mean` and `setpoint` are the mean temperature at the end of the melt zone and the sensor's [degC].
    """

    flow: float
    melt: float
    mean: float
    all_at_setpoint: float
    setpoint: float


def variant_result(variant: Variant, report: Reporter | None = None) -> Validation:
    """The measured rows under another model, calibrated anew."""
    return validate(PRACTICE, variant.free, variant.overrides, report)


def flow_ceiling(case: str, overrides: Overrides | None = None) -> float:
    """The ceiling of a shipped example [mm3/s]; 0 where nothing flows."""
    return ceiling(case, overrides).flow_ceiling or 0.0


def jet_rows(speeds: tuple[float, ...]) -> list[JetRow]:
    """What the fan changes at several speeds of the jet."""
    still = {name: flow_ceiling(name) for name in ("short-block", "long-nozzle-bare")}
    rows = []
    for speed in speeds:
        at = {"surroundings.jet_speed": f"{speed:g} m/s"}
        changes = [100.0 * (flow_ceiling(f"{name}-fan", at) / flow - 1.0) for name, flow in still.items()]
        rows.append(JetRow(speed, *changes))
    return rows


def thread_pairs(overrides: Overrides | None = None) -> list[ThreadPair]:
    """The same cases with the bare thread as a smooth cylinder with an area factor and as rings on the mesh."""
    pairs = []
    for case in ("long-nozzle-bare", "long-nozzle-bare-fan", "long-nozzle-wrapped-fan"):
        found = [
            flow_ceiling(case, {"nozzle.exposed_thread": kind, **(overrides or {})}) for kind in ("smooth", "rings")
        ]
        pairs.append(ThreadPair(case, *found))
    return pairs


def power_check() -> PowerCheck:
    """The heat into PLA at 20 mm3/s in the long block at 210 degC."""
    result = solve("long-block", "20 mm^3/s")
    assert result.field is not None and result.mean is not None
    polymer, operation = result.problem.materials.polymer, result.problem.operation
    hot, cold = (float(polymer.enthalpy(t)) for t in (operation.setpoint, operation.inlet_temperature))
    everything = polymer.reference_density * result.field.flow * (hot - cold)
    setpoint = operation.setpoint - ZERO_CELSIUS
    return PowerCheck(20.0, result.field.balance.melt, result.mean, everything, setpoint)
