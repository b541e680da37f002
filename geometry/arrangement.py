"""A whole hot end: which parts, and whether they fit; all lengths in metres."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from functools import cached_property
from types import MappingProxyType, NoneType
from typing import get_args, get_type_hints

from meltzone.geometry.block import Block, SecondBlock, SecondHeater, Stacked
from meltzone.geometry.channels import Channels
from meltzone.geometry.covers import Sleeve, Wrap
from meltzone.geometry.errors import GeometryError
from meltzone.geometry.filament import Filament
from meltzone.geometry.heat_break import HeatBreak
from meltzone.geometry.heat_sink import HeatSink
from meltzone.geometry.liner import Liner
from meltzone.geometry.nozzle import Nozzle
from meltzone.geometry.nozzle_cover import NozzleCover
from meltzone.geometry.outer import OuterPart, Ring
from meltzone.geometry.passage import EVEN, SLANT, Bore, PassageWall, require_step, shoulder
from meltzone.geometry.two_metals import BreakBody, Tip

LEDGE = 1e-6  # a liner that ends closer to the nozzle than this stands on it [m]


@dataclass(frozen=True)
class Arrangement:
    """A whole hot end: which parts, and how they fit; raises GeometryError where they do not."""

    block: Block = field(default_factory=Block)
    nozzle: Nozzle = field(default_factory=Nozzle)
    heat_break: HeatBreak = field(default_factory=HeatBreak)
    filament: Filament = field(default_factory=Filament)
    sleeve: Sleeve | None = None
    wrap: Wrap | None = None
    nozzle_cover: NozzleCover | None = None
    liner: Liner | None = None
    channels: Channels | None = None
    second_block: SecondBlock | None = None
    second_heater: SecondHeater | None = None
    heat_sink: HeatSink | None = None
    tip: Tip | None = None
    break_body: BreakBody | None = None

    def __post_init__(self) -> None:
        self._check_bores()
        self._check_stack()
        if self.second_block is not None:
            self.second_block.check(self.block)
        if self.second_heater is not None:
            self.second_heater.check(self.block, self.second_block, self.nozzle.thread.crest_radius)
        if self.liner is not None:
            self._check_liner(self.liner)
        self._check_steps()
        if self.channels is not None:
            self._check_channels(self.channels)
        for outer in self.outer:
            outer.check(self)
        for part in (self.wrap, self.tip):
            if part is not None:
                part.check(self.nozzle)

    def _check_bores(self) -> None:
        bores = {"heat break's ": self.heat_break.bore, "nozzle's ": self.nozzle.bore}
        if self.liner is not None:
            bores["liner's "] = self.liner.inner_diameter
        plain = len(set(bores.values())) == 1
        for part, bore in bores.items():
            if self.filament.diameter >= bore - 0.02e-3:
                raise GeometryError(
                    "polymer.filament_diameter",
                    self.filament.diameter,
                    f"at least {{least:g}} below the {'' if plain else part}bore of {{bore:g}}",
                    "{thick:g} filament needs a bore of about {wide:g}.",
                    bore=bore,
                    least=0.02e-3,
                    thick=2.85e-3,
                    wide=3.2e-3,
                )
        if self.heat_break.neck_diameter / 2.0 >= self.nozzle.thread.root_radius:
            raise GeometryError(
                "heat_break.neck_diameter",
                self.heat_break.neck_diameter,
                "below the thread's root of {root_diameter:.3g}",
                "The neck is thinner than the thread above and below it.",
                root_diameter=2.0 * self.nozzle.thread.root_radius,
            )

    def _check_stack(self) -> None:
        if self.engaged < 0.5e-3:
            raise GeometryError(
                "nozzle.exposed",
                self.nozzle.exposed,
                "at least {least:g} of the block's height of {height:g} left for the heat "
                "break above the nozzle's {inside:g}",
                "Raise nozzle.exposed, shorten nozzle.length or take a taller block.",
                height=self.block_top - self.block_bottom,
                inside=self.nozzle.length - self.nozzle.exposed,
                least=0.5e-3,
            )
        for name, radius in (("heater_radius", self.block.heater_inner), ("sensor_radius", self.block.sensor_radius)):
            if radius < self.nozzle.thread.crest_radius:
                raise GeometryError(
                    f"block.{name}",
                    getattr(self.block, name),
                    "outside the nozzle's thread of radius {crest_radius:g}",
                    "Heater ring and sensor sit in the block itself.",
                    crest_radius=self.nozzle.thread.crest_radius,
                )

    def _check_steps(self) -> None:
        """Every shoulder above the nozzle has room: within half of its bore's length, or at the joint in the nozzle."""
        below = Bore(self.nozzle.passage[-2][0], self.nozzle.bore / 2.0, "nozzle.bore")
        for bore, end in zip(self.bores, [*(bore.level for bore in self.bores[1:]), self.block_top], strict=True):
            require_step(bore.key, 2.0 * bore.radius, 2.0 * below.radius)
            step = bore.radius - below.radius
            upwards = (end if end > bore.level else self.top) - bore.level
            down = bore.level - below.level
            room = upwards / 2.0 if step > 0.0 else down if below.key == "nozzle.bore" else down / 2.0
            if abs(step) > room:
                raise GeometryError(
                    bore.key,
                    2.0 * bore.radius,
                    f"at most {{most:.3g}} {'wider' if step > 0.0 else 'narrower'} than the bore below it, "
                    "{diameter:.4g}",
                    "A step has a shoulder of {slant:long g} within the wider part.",
                    slant=SLANT,
                    most=2.0 * room,
                    diameter=2.0 * below.radius,
                )
            below = bore

    def _check_liner(self, liner: Liner) -> None:
        reach = 0.5e-3 - (self.top - self.block_top)
        if liner.end is not None and not reach <= liner.end <= self.engaged + EVEN:
            raise GeometryError(
                "liner.end",
                liner.end,
                "from {reach:.4g} ({least:g} of liner left above it) to the heat break's {engaged:.4g} in the block",
                "Leave it out for a liner down to the nozzle.",
                reach=reach,
                engaged=self.engaged,
                least=0.5e-3,
            )
        neck = self.heat_break.neck_diameter
        if liner.outer_diameter + 0.1e-3 > neck:
            raise GeometryError(
                "liner.outer_diameter",
                liner.outer_diameter,
                "at least {least:g} below the neck of {neck:.4g} around it",
                "Take a thinner liner or raise heat_break.neck_diameter.",
                neck=neck,
                least=0.1e-3,
            )
        below = self.nozzle if self.liner_end == self.joint else self.heat_break
        if below.bore > liner.outer_diameter - 0.1e-3:
            raise GeometryError(
                "nozzle.bore" if below is self.nozzle else "heat_break.bore",
                below.bore,
                "at least {least:g} below the liner's outer diameter of {outer_diameter:g}",
                "The liner stands on a ledge in the heat break, or on the nozzle.",
                outer_diameter=liner.outer_diameter,
                least=0.1e-3,
            )

    def _check_channels(self, channels: Channels) -> None:
        nozzle = self.nozzle
        straight = min(level for level, radius in nozzle.passage if radius == nozzle.bore / 2.0)
        room = nozzle.length - straight
        if channels.position + channels.length > room + 1e-9:
            raise GeometryError(
                "channels.length",
                channels.length,
                "with channels.position at most the straight bore below the nozzle's upper face, {room:.4g}",
                "The divided length ends above the inner cone, and above a narrower part of the bore.",
                room=room,
            )
        lower, upper = self.divided_levels
        if self.wall.radius(upper) < nozzle.bore / 2.0 - 1e-9:
            raise GeometryError(
                "channels.position",
                channels.position,
                "a beginning below the shoulder where the bore widens under the heat break",
                "Move it down by a little.",
            )
        metal = min(nozzle.thread.root_radius, nozzle.outer_radius(lower)) - 0.1e-3
        channels.check_ring(nozzle.bore, metal)

    @property
    def outer(self) -> tuple[OuterPart, ...]:
        """The outer parts there are."""
        return tuple(part for each in fields(self) if isinstance(part := getattr(self, each.name), OuterPart))

    @property
    def wrapped(self) -> tuple[str, ...]:
        """What a wrap covers."""
        return () if self.wrap is None else self.wrap.covers

    @property
    def rings(self) -> list[Ring]:
        """What the outer parts fill."""
        return [ring for outer in self.outer for ring in outer.rings(self)]

    @property
    def block_bottom(self) -> float:
        """Level of the block's lower face, z [m]."""
        return self.nozzle.exposed

    @property
    def blocks(self) -> tuple[Stacked, ...]:
        """The block, and on it the second one where there is one."""
        seat = self.block_bottom + self.block.height
        found = (Stacked("block", self.block, self.block_bottom, seat),)
        second = self.second_block
        return found if second is None else (*found, Stacked("second block", second, seat, seat + second.height))

    @property
    def block_top(self) -> float:
        """Level of the block's upper face, of the uppermost where there are two, z [m]."""
        return self.blocks[-1].top

    @property
    def heater_rings(self) -> tuple[Ring, ...]:
        """Where the heater gives its heat, and the second one where there is one."""
        placed = (self.block,) if self.second_heater is None else (self.block, self.second_heater.placed(self.block))
        return tuple(
            Ring(b.heater_inner, b.heater_outer, *b.heater_levels(self.block_bottom, self.block_top)) for b in placed
        )

    @property
    def joint(self) -> float:
        """Level where nozzle and heat break meet, z [m]."""
        return self.nozzle.length

    @property
    def divided_levels(self) -> tuple[float, float]:
        """Lower and upper end of the divided length, z [m]; both the joint where the bore is not divided."""
        if self.channels is None:
            return self.joint, self.joint
        upper = self.joint - self.channels.position
        return upper - self.channels.length, upper

    @property
    def engaged(self) -> float:
        """Length of the heat break inside the block or blocks [m]."""
        return self.block_top - self.joint

    @property
    def liner_end(self) -> float:
        """Level at which the liner ends, z [m]; the upper end of the heat break where there is none."""
        if self.liner is None:
            return self.top
        end = self.engaged if self.liner.end is None else self.liner.end
        return self.joint if self.engaged - end < LEDGE else self.block_top - end

    @cached_property
    def bores(self) -> tuple[Bore, ...]:
        """The bores of heat break and liner from the joint up."""
        bare, found = Bore(self.joint, self.heat_break.bore / 2.0, "heat_break.bore"), []
        if self.liner_end > self.joint:
            found.append(bare)
        if self.liner is not None:
            found.append(Bore(self.liner_end, self.liner.inner_diameter / 2.0, "liner.inner_diameter"))
        return tuple(found)

    @cached_property
    def wall(self) -> PassageWall:
        """The wall of the passage from the orifice to the upper end of the heat break."""
        corners, radius = self.nozzle.passage[:-1], self.nozzle.bore / 2.0
        for bore in self.bores:
            corners += shoulder(bore.level, radius, bore.radius)
            radius = bore.radius
        return PassageWall.through([*corners, (self.top, radius)])

    @property
    def solid_radius(self) -> float:
        """The least radius of what the filament passes as a solid on its way into the nozzle [m]."""
        hot = [bore.radius for bore in self.bores if bore.level < self.block_top]
        return min(self.entry_radius, self.nozzle.bore / 2.0, *hot)

    @property
    def entry_radius(self) -> float:
        """Radius of the passage at the block's upper face, where the filament enters the heat [m]."""
        return float(self.wall.radius(self.block_top))

    @property
    def top(self) -> float:
        """Level of the upper end of the modelled heat break, z [m]."""
        return self.block_top + self.heat_break.neck_length + self.heat_break.cooled_length


# The parts that need not be there, by their names in an arrangement, and the outer ones among them by those in the section
ADDED: Mapping[str, type] = MappingProxyType(
    {name: get_args(hint)[0] for name, hint in get_type_hints(Arrangement).items() if NoneType in get_args(hint)}
)
OUTER: Mapping[str, type[OuterPart]] = MappingProxyType(
    {made.part: made for made in ADDED.values() if issubclass(made, OuterPart)}
)
