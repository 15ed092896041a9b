"""What every antenna family offers: ways to build it from a shelf, a first guess, its metal, its pieces.

A family is one file of this package with a module attribute ``FAMILY``. Its parameters are what a builder cuts,
bends, drills or counts, each with the datum it is measured from. Values travel as ``{key: number}`` in SI (lengths
in metres, angles in degrees, counts as whole numbers).
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from aerialwright.antennas.plastic import Pipe, insulation_of, layers, resized
from aerialwright.antennas.records import Dimension, Piece
from aerialwright.antennas.workpiece import Plate, WorkStep
from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.errors import DesignError
from aerialwright.need.model import Need, StockItem
from aerialwright.stock.cables import OTHER, cable
from aerialwright.stock.connectors import Connector, coax_end, connector
from aerialwright.stock.metals import metal, surface_conductivity
from aerialwright.structure.model import Coating, Mesh, Metal, Structure

Values = dict[str, float]

#: Length a saw takes [m] when one stock length is shared out. Common practice, no source.
SAW_KERF = 1.5e-3


@dataclass(frozen=True)
class Parameter:
    """One build dimension of a family. ``step`` is what can be marked out; ``tuned`` tells what the engine may move."""

    key: str
    label: str
    kind: str
    datum: str
    step: float = 1.0e-3
    tuned: bool = False
    lowest: float = 0.0
    highest: float = 100.0
    #: What a slip of one degree (or millimetre) at the bench does to this value: a full cone angle moves twice the bend.
    slip: float = 1.0


@dataclass(frozen=True)
class Conductor:
    """Metal for one role: its ``kind`` (rod, tube, wire, sheet, mesh), surface metal and size [m]; ``stock`` names the shelf item,
    ``insulation`` the plastic on a wire."""

    kind: str
    material: str
    metal: Metal
    diameter: float = 0.0
    thickness: float = 1.0e-3
    mesh: Mesh | None = None
    stock: str = ""
    insulation: Coating | None = None

    @property
    def radius(self) -> float:
        """Outer radius [m]."""
        return 0.5 * self.diameter


@dataclass(frozen=True)
class Plan:
    """One way of building a family: its fixed values, the metal of each role, the socket and the pipe over it."""

    key: str
    title: str
    fixed: Values
    metals: Mapping[str, Conductor]
    socket: Connector
    horizontal: bool = False
    remarks: tuple[str, ...] = field(default=())
    cover: Pipe | None = None

    def plastic(self, role: str) -> Coating | None:
        """Plastic that the metal of a role wears: its insulation, and the cover where this plan has one."""
        return layers(self.metals[role].insulation, self.cover)


@dataclass(frozen=True)
class Span:
    """The frequencies to serve [Hz]: edges of the must-bands taken together."""

    low: float
    high: float

    @property
    def centre(self) -> float:
        """Geometric centre [Hz]."""
        return math.sqrt(self.low * self.high)

    def wavelength(self, frequency: float | None = None) -> float:
        """Free-space wavelength [m] at ``frequency``, or at the centre."""
        return SPEED_OF_LIGHT / (frequency or self.centre)


def as_metal(name: str, *, frequency: float | None = None) -> Metal:
    """The metal of a stock word, for the engine; a plated one as it conducts at ``frequency`` [Hz], else as its plating."""
    row = metal(name)
    if row.plating > 0.0 and frequency is not None:
        return Metal(row.key, surface_conductivity(row, frequency=frequency), 1.0, row.source)
    return Metal(row.key, row.conductivity, row.relative_permeability, row.source)


def conductor_of(item: StockItem, *, frequency: float | None = None) -> Conductor:
    """A shelf item as a conductor; plating as at ``frequency`` [Hz]."""
    mesh = None
    if item.kind == "mesh" and item.pitch and item.wire_diameter:
        mesh = Mesh(item.pitch, item.wire_diameter)
    return Conductor(
        item.kind, item.material, as_metal(item.material, frequency=frequency), item.diameter or 0.0, item.thickness or 1.0e-3, mesh,
        item.title, insulation_of(item),
    )  # fmt: skip


@dataclass(frozen=True)
class Shelf:
    """The need's stock by role."""

    need: Need

    def conductor(self, item: StockItem) -> Conductor:
        """An item as a conductor at the lowest frequency that must be served, where the skin is thickest."""
        return conductor_of(item, frequency=min((band.low for band in self.need.must_bands), default=None))

    def rods(self) -> list[Conductor]:
        """Thin round stock (under 8 mm), thickest first."""
        found = [
            self.conductor(item)
            for item in self.need.stock
            if item.kind in ("rod", "wire", "tube") and item.diameter and item.diameter < 8e-3
        ]
        return sorted(found, key=lambda metal: -metal.diameter)

    def tubes(self) -> list[Conductor]:
        """Thick round stock (8 mm and more), thickest first."""
        found = [
            self.conductor(item)
            for item in self.need.stock
            if item.kind in ("rod", "tube") and item.diameter and item.diameter >= 8e-3
        ]
        return sorted(found, key=lambda metal: -metal.diameter)

    def sheets(self, kinds: tuple[str, ...] = ("sheet", "mesh")) -> list[tuple[Conductor, StockItem]]:
        """Flat stock with its item."""
        return [(self.conductor(item), item) for item in self.need.stock if item.kind in kinds]

    def rod(self) -> Conductor:
        """The rod for whips, radials and wires: the shelf's, or 3.2 mm brass to be bought."""
        rods = [rod for rod in self.rods() if rod.diameter >= 1.5e-3] or self.rods()
        return rods[0] if rods else Conductor("rod", "brass", as_metal("brass"), 3.2e-3)

    def plate(self) -> Conductor:
        """Sheet for hubs: the shelf's, or 1 mm brass to be bought."""
        sheets = [metal for metal, _ in self.sheets(("sheet",))]
        return sheets[0] if sheets else Conductor("sheet", "brass", as_metal("brass"), thickness=1.0e-3)

    def socket(self, highest: float) -> Connector:
        """The best listed socket for ``highest`` [Hz]: matched to the line and with a four-hole flange where there is a choice."""
        names = self.need.connectors or ("N",)
        rows = [self.ended(connector(name)) for name in names]
        line = self.need.feed_lines[0].impedance if self.need.feed_lines else 50.0

        def merit(row: Connector) -> tuple[bool, bool, float]:
            return (row.highest_frequency < highest, row.hole_square == 0.0, abs(row.impedance - line))

        return sorted(rows, key=merit)[0]

    def ended(self, row: Connector) -> Connector:
        """A bare coax end with the diameters of the feed line in use; any other socket as it is."""
        lines = self.need.feed_lines
        return coax_end(cable(lines[0].type)) if row.bare and lines and lines[0].type != OTHER else row


class Family(ABC):
    """A kind of antenna."""

    key: str
    title: str
    #: Polarisations it can give.
    polarisations: tuple[str, ...] = ("vertical",)
    parameters: tuple[Parameter, ...]
    #: Order in lists.
    place: int = 100
    #: True if it serves one band and is weighed in pairs against a wide antenna.
    narrow: bool = False
    #: Dimension whose rule of thumb people know.
    main_length: str = ""
    #: Dimensions worth a curve, each with the question it answers.
    questions: tuple[tuple[str, str], ...] = ()
    #: Fed through a socket (or a bare coax end) on the axis, with the coax straight below it.
    socketed: bool = False
    #: Roles whose rods stand inside a plastic pipe put over the antenna; none where it is too wide for one.
    in_pipe: tuple[str, ...] = ()

    @abstractmethod
    def plans(self, need: Need, shelf: Shelf, span: Span) -> list[Plan]:
        """Ways to build it for a need from its shelf."""

    @abstractmethod
    def first_guess(self, plan: Plan, span: Span) -> tuple[Values, str]:
        """Values from the handbook rule, and where the rule comes from."""

    @abstractmethod
    def structure(self, plan: Plan, values: Values) -> Structure:
        """The metal for the engine.

        Raises
        ------
        DesignError
            If the values contradict each other.
        """

    @abstractmethod
    def pieces(self, plan: Plan, values: Values) -> tuple[Piece, ...]:
        """The cut list."""

    @abstractmethod
    def joints(self, plan: Plan, values: Values) -> int:
        """Soldered, bolted or clamped joints."""

    @abstractmethod
    def bounds(self, plan: Plan, span: Span, values: Values) -> dict[str, tuple[float, float]]:
        """Limits (lowest, highest) of the tuned values."""

    def steps(self, plan: Plan, values: Values) -> tuple[WorkStep, ...]:
        """The order of work between cut pieces and the first reading; by default what the pieces themselves ask for."""
        out = []
        for piece in self.pieces(plan, values):
            if piece.bends:
                out.append(WorkStep(f"Bend each {piece.name} at its marks", "all of them lie on the bend gauge"))
            if isinstance(piece.form, Plate) and piece.form.holes:
                out.append(WorkStep(f"Drill the {piece.name} by its template, on wood", "every screw passes; no burr"))
        names = ", ".join(piece.name for piece in self.pieces(plan, values) if piece.shape != "part")
        out.append(WorkStep(f"Join {names} as drawn", "under 0.5 ohm across each joint"))
        return tuple(out)

    def size(self, structure: Structure) -> tuple[float, float]:
        """(width, height) of the metal [m]."""
        reach, low, high = 0.0, math.inf, -math.inf
        for rod in structure.rods:
            for x, y, z in rod.points:
                reach = max(reach, math.hypot(x, y) + rod.radius)
                low, high = min(low, z), max(high, z)
        for surface in structure.surfaces:
            for rho, z in surface.profile:
                reach = max(reach, rho)
                low, high = min(low, z), max(high, z)
        return 2.0 * reach, high - low

    def parameter(self, key: str) -> Parameter:
        """The parameter with that key.

        Raises
        ------
        DesignError
            Names the known keys.
        """
        for parameter in self.parameters:
            if parameter.key == key:
                return parameter
        known = ", ".join(parameter.key for parameter in self.parameters)
        raise DesignError(f"'{self.key}' has no dimension '{key}'", where=key, mend=f"use one of {known}")

    def tuned(self, plan: Plan) -> tuple[str, ...]:
        """Keys the engine may move."""
        return tuple(p.key for p in self.parameters if p.tuned and p.key not in plan.fixed)

    def check(self, values: Values) -> None:
        """Refuse values outside what can be built.

        Raises
        ------
        DesignError
            Names the dimension and its limits.
        """
        for parameter in self.parameters:
            if parameter.key not in values:
                raise DesignError("is missing", where=f"{self.key} {parameter.key}", mend=f"give the {parameter.label}")
            value = values[parameter.key]
            if not math.isfinite(value) or not parameter.lowest <= value <= parameter.highest:
                unit = {"length": "m", "angle": "degree", "count": ""}[parameter.kind]
                raise DesignError(
                    f"{value:g} {unit} is outside {parameter.lowest:g} to {parameter.highest:g} {unit}",
                    where=f"{self.key} {parameter.key}",
                    mend=f"change the {parameter.label}",
                )
            if parameter.kind == "count" and value != int(value):
                raise DesignError("must be a whole number", where=f"{self.key} {parameter.key}", mend="round it")

    def dimensions(self, plan: Plan, values: Values) -> tuple[Dimension, ...]:
        """The values as records, in the family's order."""
        free = set(self.tuned(plan))
        return tuple(
            Dimension(p.key, p.label, values[p.key], p.kind, p.datum, p.step, p.key in free)
            for p in self.parameters
            if p.key in values
        )

    def settled(self, values: Values) -> Values:
        """Values with those that follow from others brought into step; nothing by default."""
        return values

    def rounded(self, plan: Plan, values: Values) -> Values:
        """Tuned values on what can be marked out."""
        out = dict(values)
        for key in self.tuned(plan):
            step = self.parameter(key).step
            out[key] = round(values[key] / step) * step
        return out


def flange_radius(socket: Connector) -> float:
    """Radius [m] of the disc with the area of the socket's square flange."""
    return socket.flange_side / math.sqrt(math.pi)


def aperture_radius(socket: Connector) -> float:
    """Outer radius of the socket's coaxial aperture [m]."""
    return 0.5 * socket.aperture_diameter


def with_diameters(plan: Plan, values: Values) -> Plan:
    """The plan with its rods, tubes and wires as thick as ``values`` say, so that what is printed is what is solved."""
    metals = dict(plan.metals)
    for role, conductor in metals.items():
        if conductor.kind in ("rod", "tube", "wire"):
            key = f"{role}_diameter" if f"{role}_diameter" in values else "wire_diameter"
            diameter = values.get(key, conductor.diameter)
            shell = resized(conductor.insulation, conductor.radius, 0.5 * diameter)
            metals[role] = replace(conductor, diameter=diameter, insulation=shell)
    return replace(plan, metals=metals)
