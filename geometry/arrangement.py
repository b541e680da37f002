"""A whole hot end: which parts, and whether they fit; all lengths in metres."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from meltzone.geometry.block import Block
from meltzone.geometry.covers import Sleeve, Wrap
from meltzone.geometry.errors import GeometryError
from meltzone.geometry.filament import Filament
from meltzone.geometry.heat_break import HeatBreak
from meltzone.geometry.nozzle import Nozzle
from meltzone.geometry.passage import PassageWall, require_step, shoulder


@dataclass(frozen=True)
class Arrangement:
    """A whole hot end: which parts, and how they fit; raises GeometryError where they do not."""

    block: Block = field(default_factory=Block)
    nozzle: Nozzle = field(default_factory=Nozzle)
    heat_break: HeatBreak = field(default_factory=HeatBreak)
    filament: Filament = field(default_factory=Filament)
    sleeve: Sleeve | None = None
    wrap: Wrap | None = None

    def __post_init__(self) -> None:
        self._check_bores()
        self._check_stack()
        self._check_step()
        if self.sleeve is not None:
            self._check_sleeve(self.sleeve)
        if self.wrap is not None:
            self._check_wrap(self.wrap)

    def _check_bores(self) -> None:
        plain = self.heat_break.bore == self.nozzle.bore
        for part, bore in (("heat break's ", self.heat_break.bore), ("nozzle's ", self.nozzle.bore)):
            if self.filament.diameter >= bore - 0.02e-3:
                raise GeometryError(
                    "polymer.filament_diameter",
                    self.filament.diameter,
                    f"at least 0.02 mm below the {'' if plain else part}bore of {1e3 * bore:g} mm",
                    "2.85 mm filament needs a bore of about 3.2 mm.",
                )
        if self.heat_break.neck_diameter / 2.0 >= self.nozzle.thread.root_radius:
            raise GeometryError(
                "heat_break.neck_diameter",
                self.heat_break.neck_diameter,
                f"below the thread's root of {2e3 * self.nozzle.thread.root_radius:.3g} mm",
                "The neck is thinner than the thread above and below it.",
            )

    def _check_stack(self) -> None:
        if self.engaged < 0.5e-3:
            raise GeometryError(
                "nozzle.exposed",
                self.nozzle.exposed,
                f"at least 0.5 mm of the block's height of {1e3 * self.block.height:g} mm left for the heat break above "
                f"the nozzle's {1e3 * (self.nozzle.length - self.nozzle.exposed):g} mm",
                "Raise nozzle.exposed, shorten nozzle.length or take a taller block.",
            )
        for name, radius in (("heater_radius", self.block.heater_inner), ("sensor_radius", self.block.sensor_radius)):
            if radius < self.nozzle.thread.crest_radius:
                raise GeometryError(
                    f"block.{name}",
                    getattr(self.block, name),
                    f"outside the nozzle's thread of radius {1e3 * self.nozzle.thread.crest_radius:g} mm",
                    "Heater ring and sensor sit in the block itself.",
                )

    def _check_step(self) -> None:
        """The shoulder at the joint has room: above it as far as half the heat break's engagement, below it in the nozzle."""
        require_step("heat_break.bore", self.heat_break.bore, self.nozzle.bore)
        step = (self.heat_break.bore - self.nozzle.bore) / 2.0
        below = self.joint - self.nozzle.passage[-2][0]
        room = self.engaged / 2.0 if step > 0.0 else below
        if abs(step) > room:
            raise GeometryError(
                "heat_break.bore",
                self.heat_break.bore,
                f"at most {2e3 * room:.3g} mm {'wider' if step > 0.0 else 'narrower'} than the nozzle's bore of "
                f"{1e3 * self.nozzle.bore:g} mm",
                "The step has a shoulder of 45 degrees within the wider part.",
            )

    def _check_sleeve(self, sleeve: Sleeve) -> None:
        room = self.nozzle.exposed - self.nozzle.shoulder
        if sleeve.height > room + 1e-9:
            raise GeometryError(
                "sleeve.height",
                sleeve.height,
                f"at most the exposed thread between block and hexagon, {1e3 * room:.4g} mm",
                "A longer nozzle (nozzle.length and nozzle.exposed) gives it room.",
            )
        if sleeve.radius <= self.nozzle.thread.crest_radius:
            raise GeometryError(
                "sleeve.width",
                sleeve.width,
                f"wider than the thread of {1e3 * self.nozzle.thread.diameter:g} mm",
                "Give the width across the flats.",
            )

    def _check_wrap(self, wrap: Wrap) -> None:
        ridge = self.nozzle.thread.crest_radius - self.nozzle.thread.pitch_radius
        if self.nozzle.exposed_thread == "rings" and "nozzle" in wrap.covers and wrap.thickness < ridge + 0.02e-3:
            raise GeometryError(
                "wrap.thickness",
                wrap.thickness,
                f"more than the thread's ridges of {1e3 * ridge:.3g} mm, where they are resolved as rings",
                'A thin tape goes with nozzle.exposed_thread = "smooth".',
            )

    @property
    def block_bottom(self) -> float:
        """Level of the block's lower face, z [m]."""
        return self.nozzle.exposed

    @property
    def block_top(self) -> float:
        """Level of the block's upper face, z [m]."""
        return self.nozzle.exposed + self.block.height

    @property
    def joint(self) -> float:
        """Level where nozzle and heat break meet, z [m]."""
        return self.nozzle.length

    @property
    def engaged(self) -> float:
        """Length of the heat break inside the block [m]."""
        return self.block_top - self.joint

    @cached_property
    def wall(self) -> PassageWall:
        """The wall of the passage from the orifice to the upper end of the heat break."""
        nozzle, above = self.nozzle, self.heat_break.bore / 2.0
        corners = [*nozzle.passage[:-1], *shoulder(self.joint, nozzle.bore / 2.0, above)]
        return PassageWall.through([*corners, (self.top, above)])

    @property
    def entry_radius(self) -> float:
        """Radius of the passage at the block's upper face, where the filament enters the heat [m]."""
        return float(self.wall.radius(self.block_top))

    @property
    def top(self) -> float:
        """Level of the upper end of the modelled heat break, z [m]."""
        return self.block_top + self.heat_break.neck_length + self.heat_break.cooled_length
