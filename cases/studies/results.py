"""The outcome of a case in the units people use: mm3/s, W, degC, mm; the solver's own objects stay within reach."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from meltzone.cases.inputs.reader import Case
from meltzone.cases.studies.bands.band import Band
from meltzone.cases.studies.bands.reach import reach
from meltzone.cases.studies.cautions import (
    assembly_caution,
    cautions_of,
    hottest_points,
    stuck_on_caution,
)
from meltzone.cases.studies.core_notes import core_notes
from meltzone.cases.studies.division_notes import division_notes
from meltzone.cases.studies.wording import CUBIC_MM, field_warnings, judged_words, reasons, statement, usual_words
from meltzone.fem.ceiling import Ceilings
from meltzone.fem.degradation import Degradation, degradation_of
from meltzone.fem.field import Field
from meltzone.fem.ooze import Ooze, ooze_of
from meltzone.fem.problem import Problem
from meltzone.fem.runaway import StuckOn
from meltzone.fem.system import System
from meltzone.fem.usual_feeder import UsualStall
from meltzone.materials.limits import Finding
from meltzone.materials.units import ZERO_CELSIUS

if TYPE_CHECKING:
    from meltzone.fem.slow_flow.feeding import Feeding

MM = 1e3


@dataclass(frozen=True, eq=False, repr=False)
class Result:
    """What a case gave. `field` is the state at the governing ceiling, or at the flow asked for; None without a ceiling.

    `usual` is where a usual feeder would stop a case that gives no grip, or why that is not known; None where not sought.
    `ceilings` is None where a flow was asked for. `pushed` is what pushes the melt of the field; None where the case
    gives no grip, or the polymer's card lacks a number for it. `stuck_on` is what the heater comes to when nothing switches
    it off; None where that is beyond the tables, or was not asked for. `band` tells between which flows the ceiling lies; None
    without a ceiling, or where it was not asked for. Flows are in mm3/s, powers in W, temperatures in degC,
    lengths in mm; what does not exist is None. Nothing is solved here.
    """

    case: Case
    system: System
    field: Field | None
    ceilings: Ceilings | None = None
    pushed: Feeding | None = None
    stuck_on: StuckOn | None = None
    usual: UsualStall | str | None = None
    band: Band | None = None

    @property
    def problem(self) -> Problem:
        """What the solver was given."""
        return self.system.problem

    @property
    def title(self) -> str:
        """The case's title, else its name."""
        return self.case.model.title or self.case.name

    @property
    def flow(self) -> float | None:
        """Flow of the field [mm3/s]."""
        return self._of_field(lambda field: CUBIC_MM * field.flow)

    @property
    def flow_ceiling(self) -> float | None:
        """The flow ceiling [mm3/s]: the least of the ceilings."""
        return CUBIC_MM * self.ceilings.flow if self.ceilings and self.ceilings.field else None

    def ceiling_of(self, limit: str) -> float | None:
        """Flow [mm3/s] of the ceiling by the `limit` of that name."""
        return self.all_ceilings.get(limit)

    @property
    def all_ceilings(self) -> dict[str, float]:
        """The ceilings that there are [mm3/s], by the names of their limits."""
        found = self.ceilings.found if self.ceilings else {}
        return {name: CUBIC_MM * field.flow for name, field in found.items()}

    @property
    def melt_ceiling(self) -> float | None:
        """Flow [mm3/s] at which the polymer just melts through."""
        return self.ceiling_of("melt")

    @property
    def power_ceiling(self) -> float | None:
        """Flow [mm3/s] at which the heater's rating is used up."""
        return self.ceiling_of("power")

    @property
    def force_ceiling(self) -> float | None:
        """Flow [mm3/s] at which pushing takes the feeder's whole grip."""
        return self.ceiling_of("force")

    @property
    def governs(self) -> str | None:
        """The limit whose ceiling is the least, such as "melt", or "none" where nothing can flow."""
        return self.ceilings.governs if self.ceilings else None

    @cached_property
    def reasons(self) -> dict[str, str]:
        """Why there is no ceiling, by the name of each that there is not."""
        found = reasons(self.ceilings) if self.ceilings else {}
        return found if self.usual is None else found | {"force": f"{found['force']}; {usual_words(self.usual)}"}

    @property
    def usual_feeder(self) -> tuple[float, float, float] | None:
        """Flow at which a usual feeder would stop, and its range [mm3/s]; None where that is not known."""
        if not isinstance(self.usual, UsualStall):
            return None
        return CUBIC_MM * self.usual.flow, CUBIC_MM * self.usual.low, CUBIC_MM * self.usual.high

    def gain_on(self, other: Result) -> float | None:
        """The flow ceiling over that of another result, less one [%]; None where either has none."""
        own, first = self.flow_ceiling, other.flow_ceiling
        return 100.0 * (own / first - 1.0) if own and first else None

    @property
    def answered(self) -> bool:
        """Whether what was asked is known: a flow was solved, or there is a ceiling and no search for another one failed."""
        return self.ceilings is None or self.ceilings.answered

    @property
    def power(self) -> float | None:
        """Heater power [W]."""
        return self._of_field(lambda field: field.power)

    @property
    def core(self) -> float | None:
        """Temperature on the axis at the end of the melt zone [degC]."""
        return self._of_field(lambda field: field.core - ZERO_CELSIUS)

    @property
    def inner(self) -> float | None:
        """Temperature at the edge of the innermost share of the flow, at the end of the melt zone [degC]."""
        return self._of_field(lambda field: field.inner - ZERO_CELSIUS)

    @property
    def mean(self) -> float | None:
        """Flow-weighted mean temperature at the end of the melt zone [degC]."""
        return self._of_field(lambda field: field.mean - ZERO_CELSIUS)

    @property
    def wall(self) -> float | None:
        """Temperature of the bore wall at the end of the melt zone [degC]."""
        return self._of_field(lambda field: field.wall - ZERO_CELSIUS)

    @property
    def sensor(self) -> float | None:
        """Temperature of the sensor [degC]."""
        return self._of_field(lambda field: field.sensor - ZERO_CELSIUS)

    @property
    def tip(self) -> float | None:
        """Temperature of the nozzle's face beside the orifice [degC]."""
        return self._of_field(lambda field: field.tip - ZERO_CELSIUS)

    @property
    def melt_zone(self) -> tuple[float, float] | None:
        """Lower and upper end of the melt zone above the nozzle's face [mm]."""
        return self._of_field(lambda field: (MM * field.melt_zone[0], MM * field.melt_zone[1]))

    @property
    def mesh_error(self) -> float | None:
        """By how much the ceiling moves on the next finer mesh [%]."""
        error = self.ceilings.mesh_error if self.ceilings else None
        return None if error is None else 100.0 * error

    @property
    def factorisations(self) -> int:
        """Matrix factorisations spent."""
        if self.ceilings:
            return self.ceilings.factorisations
        return self.field.factorisations if self.field else 0

    @property
    def feeding_force(self) -> float | None:
        """Force on the filament [N]; None where the case gives no grip or the polymer's card lacks a number."""
        return None if self.pushed is None else self.pushed.force

    @cached_property
    def ooze(self) -> Ooze | None:
        """The most that can leave after a stop out of the field."""
        return None if self.field is None else ooze_of(self.field)

    @cached_property
    def degradation(self) -> Degradation | None:
        """What the slowest of the field's melt goes through."""
        return None if self.field is None else degradation_of(self.field)

    @cached_property
    def warnings(self) -> tuple[str, ...]:
        """What a reader of the numbers must know; worked out when asked."""
        if self.field is None:
            return ()
        of_core = core_notes(self.field, self.case.model.polymer.inner_share is not None)
        return (*field_warnings(self.field), *of_core, *division_notes(self.field))

    @cached_property
    def outside(self) -> tuple[str, ...]:
        """What lies outside all that the model was ever compared with; the gravest thing to know of the numbers."""
        return reach(self.problem, self.flow_ceiling)

    @cached_property
    def cautions(self) -> tuple[Finding, ...]:
        """What the temperatures of this case mean for its materials and the people beside them, the gravest first."""
        return cautions_of(self.problem, hottest_points(self.problem, self.field))

    @property
    def safety(self) -> tuple[Finding, ...]:
        """The cautions, with those of a heater stuck on and of threads tightened hot."""
        stuck = () if self.stuck_on is None else (stuck_on_caution(self.problem, self.stuck_on),)
        return (*self.cautions, *stuck, assembly_caution(self.problem))

    @property
    def statement(self) -> str:
        """What the answer is, in one sentence."""
        if self.ceilings is not None:
            said = statement(self.ceilings)
            return said[:1].upper() + said[1:]
        return _verdict_at_flow(self)

    @property
    def verdict(self) -> str:
        """The line under the title of a picture: the flow, and what governs."""
        if self.ceilings is None or self.flow_ceiling is None:
            return self.statement
        return f"Flow ceiling {self.flow_ceiling:.1f} mm³/s, {self.governs} governs: {statement(self.ceilings)}"

    def __repr__(self) -> str:
        """One line; the fields of its objects would fill pages."""
        return f"<{self.title!r}: {self.verdict}>"

    def _of_field(self, read: Any) -> Any:
        return None if self.field is None else read(self.field)


def _verdict_at_flow(result: Result) -> str:
    """How a field at a given flow stands against the melt and the power limit."""
    field, operation = result.field, result.problem.operation
    assert field is not None
    excess = field.judged - result.problem.materials.polymer.flow_temperature
    side = "above" if excess >= 0.0 else "below"
    reached = "melts" if excess >= 0.0 else "does not melt through"
    text = (
        f"At {CUBIC_MM * field.flow:.1f} mm³/s it {reached}: {judged_words(operation)} leaves the melt zone "
        f"{abs(excess):.1f} K {side} the flow temperature"
    )
    if result.feeding_force is not None:
        text += f"; pushing takes {result.feeding_force:.1f} N of a grip of {operation.grip:g} N"
    elif operation.grip is not None:
        from meltzone.fem.slow_flow.feeding import missing_for_force  # loaded only where a grip is given

        text += f"; the feeding force is not known, for {missing_for_force(result.problem)}"
    if field.power > operation.rating:
        return f"{text}; the heater would have to give {field.power:.1f} W of a rating of {operation.rating:g} W"
    return f"{text}; the heater gives {field.power:.1f} of {operation.rating:g} W"
