"""The panel socket as metal: exposed pin, aperture, flange and the body below it; or the bare end of a coax.

The pin or cup stands out of the insulator's face with the rod in it (or on it, where the rod is thicker), the flange is the disc
of equal area, the body a closed tube under it: that closes the metal behind the feed. What each part does to the impedance of a
ground plane was measured on this program (tests/unit/test_feed_hardware.py repeats it), largest change over 6 % of frequency:

- pin of a UHF socket with a 3.2 mm rod in it, against the rod alone: 0.8 % at 150 MHz, 2.5 % at 450 MHz; BNC 0.9 % and 2.7 %;
  N, as thick as the rod, 0.1 % and 0.4 %. Kept.
- thickness of the flange (3 mm instead of a disc without edge, radials level with its face): 0.05 % at 150 MHz, 0.14 % at
  450 MHz. Under 0.2 %, so the flange is drawn without its edge. Radials fastened 1.6 mm lower, under the flange, do matter:
  1.8 % and 3.7 %; the rod length then counts from there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from aerialwright.antennas.family import Conductor, aperture_radius, flange_radius
from aerialwright.antennas.records import TRIM, Piece, part
from aerialwright.antennas.workpiece import Allowance, HoleCircle, Plate, WorkStep, solders
from aerialwright.base.errors import DesignError
from aerialwright.stock.connectors import Connector
from aerialwright.structure.model import ApertureFeed, Coating, Metal, Rod, Surface

#: A rod within this part of the pin's radius is drawn as one with it.
ALIKE = 0.1
#: Of a rod that stands in a pin's cup [m]. Common practice (6 to 8 mm), no source.
FOOT = 6e-3
#: Screw for a flange hole of at least this diameter [m]. Common practice, no source.
SCREWS = ((3.2e-3, "M3"), (2.7e-3, "M2.5"), (0.0, "M2"))
#: Clearance hole of an M3 screw [m] (ISO 273, medium, from memory 3.4 mm; the drill that people have).
INSULATOR_HOLE = 3.2e-3


def rod_radius_in_aperture(socket: Connector, radius: float) -> float:
    """Inner radius [m] of the aperture: the pin, or the rod where both are as thick."""
    pin = 0.5 * socket.pin_diameter
    return radius if abs(radius - pin) <= ALIKE * pin else pin


def upright(
    socket: Connector, rod: Conductor, *, length: float, name: str, coating: Coating | None = None
) -> tuple[Rod, ...]:
    """A rod of ``length`` [m] from the flange face up, its foot in the socket's pin or cup.

    A plastic ``coating`` that leaves room for the pin goes over both; insulation ends where the pin begins.
    """
    pin = rod_radius_in_aperture(socket, rod.radius)
    if pin == rod.radius:
        return (Rod(name, ((0.0, 0.0, 0.0), (0.0, 0.0, length)), rod.radius, 1, rod.metal, coating),)
    if length <= socket.pin_length + 1e-3:
        raise DesignError("the rod ends inside the socket's cup", where=name, mend="make it longer")
    over = coating if coating is not None and rod.insulation is None and coating.inner_radius >= pin else None
    return (
        Rod("pin", ((0.0, 0.0, 0.0), (0.0, 0.0, socket.pin_length)), pin, 1, rod.metal, over),
        Rod(name, ((0.0, 0.0, socket.pin_length), (0.0, 0.0, length)), rod.radius, 1, rod.metal, coating),
    )


def body(socket: Connector, metal: Metal, *, plate_radius: float) -> tuple[Surface, ...]:
    """Flange (or plate) out to ``plate_radius`` [m] and the socket's body below it."""
    b = aperture_radius(socket)
    shell = max(0.5 * socket.shell_diameter, b)
    if plate_radius <= shell + 0.5e-3:
        raise DesignError(
            f"a hub of radius {plate_radius * 1e3:.1f} mm does not cover the {socket.key} socket's body ({shell * 1e3:.1f} mm)",
            where="hub",
            mend="use a larger hub plate or a smaller socket",
        )
    return (
        Surface("flange", ((b, 0.0), (plate_radius, 0.0)), metal, 2.0e-3),
        Surface("socket body", ((shell, 0.0), (shell, -socket.body_length), (0.0, -socket.body_length)), metal, 2.0e-3),
    )


def feed(socket: Connector, *, radius: float) -> ApertureFeed:
    """Feed across the aperture for an inner conductor of ``radius`` [m]."""
    inner = rod_radius_in_aperture(socket, radius)
    return ApertureFeed(positive=(inner, 0.0), negative=(aperture_radius(socket), 0.0))


def hub_plate_radius(socket: Connector, *, count: int, rod: Conductor) -> float:
    """Radius [m] of the plate that ``count`` rods start from: the flange itself where its four holes serve, else a plate."""
    if socket.hole_square > 0 and count in (2, 4):
        return flange_radius(socket)
    spread = rod.radius / (math.sin(math.pi / count) if count > 1 else 1.0)
    return max(0.030, flange_radius(socket) + 6e-3, spread * 1.3 + 4e-3)


def parts(socket: Connector) -> tuple[Piece, ...]:
    """The socket (or coax end) and the screws of its flange."""
    if socket.bare:
        remark = f"leave {socket.pin_length * 1e3:.0f} mm of the centre conductor bare; measure yours"
        return (part("coax end", socket.title, remark=remark),)
    out = [part(f"{socket.key} socket", socket.title, remark="measure yours")]
    if socket.hole_square > 0.0:
        screw = next(name for hole, name in SCREWS if socket.hole_diameter >= hole)
        out.append(
            part(f"{screw} screw", "stainless steel", quantity=4, remark="with nut and star washer, for the flange")
        )
    return tuple(out)


def plate(socket: Connector, metal: Conductor, *, name: str, across: float, rays: int = 0, remark: str = "") -> Piece:
    """A round plate with the socket in its middle; ``rays``: how many rods leave its edge, the first along 0 degrees."""
    holes = [HoleCircle(0.0, 1, socket.panel_hole, "socket body")]
    if socket.hole_square > 0.0:
        holes.append(HoleCircle(math.sqrt(2.0) * socket.hole_square, 4, socket.hole_diameter, "flange screws", 45.0))
    return round_plate(metal, name=name, across=across, holes=tuple(holes), rays=rays, remark=remark)


def round_plate(
    metal: Conductor,
    *,
    name: str,
    across: float,
    quantity: int = 1,
    holes: tuple[HoleCircle, ...] = (),
    rays: int = 0,
    remark: str = "",
) -> Piece:
    """A disc of sheet or mesh ``across`` [m] with its holes and ``rays`` scribed directions."""
    turns = tuple(360.0 * k / rays for k in range(rays))
    thickness = None if metal.mesh else metal.thickness
    form = Plate(across, holes=holes, rays=turns, thickness=thickness)
    return Piece(name, quantity, metal.kind, metal.material, None, across, (), "across", form=form, width=across,
                 thickness=thickness, stock=metal.stock, remark=remark)  # fmt: skip


def screw_holes(across: float) -> tuple[HoleCircle, ...]:
    """Two holes that hold a hub plate to the insulator between two halves; none where a plate is too small for them."""
    return (HoleCircle(0.6 * across, 2, INSULATOR_HOLE, "insulator screws"),) if across >= 5.0 * INSULATOR_HOLE else ()


@dataclass(frozen=True)
class Foot:
    """How a rod's foot meets the pin: how much of it goes into the cup [m], what is bought for it, a remark, and the step."""

    in_cup: float
    extra: tuple[Piece, ...]
    remark: str
    action: str


def foot_of(socket: Connector, rod: Conductor) -> Foot:
    """A rod in the cup, turned down to it, with a plug in a tube's end, or in a sleeve where the metal does not solder."""
    hold = "put a mated plug on the socket to hold the pin"
    counts = f"the pin's {socket.pin_length * 1e3:.0f} mm count in the length"
    plug = part("foot plug", "brass", remark="fits the tube's bore, two screws; joins it to the pin")
    extra = (plug,) if rod.kind == "tube" else ()
    if socket.bare:
        hole = f"{socket.pin_diameter * 1e3 + 0.2:.1f} mm"
        fix = "tin both and solder it in" if solders(rod.material) else "clamp it with a grub screw"
        action = (
            f"Drill the foot {hole}, {FOOT * 1e3:.0f} mm deep, strip the centre conductor by as much more, {fix}, the dielectric level "
            "with the plate"
        )
        return Foot(
            0.0,
            extra,
            f"centre conductor in a hole of {hole}; its {socket.pin_length * 1e3:.0f} mm in the open count",
            action,
        )
    if extra:
        stub = f"{socket.wire_limit * 1e3:.1f} mm"
        action = f"Fix the plug in the tube's foot, tin its stub of {stub}, {hold}, stand it in the cup and heat the stub, not the pin"
        return Foot(0.0, extra, f"stands on the pin by a plug; {counts}", action)
    if not solders(rod.material):
        sleeve = part("foot sleeve", "brass", remark="over pin and rod, two grub screws; this rod does not solder")
        action = f"Solder the sleeve on the pin ({hold}), then fix the bright rod in it, joint paste on it, with two grub screws"
        return Foot(0.0, (sleeve,), f"stands on the pin in a sleeve; {counts}", action)
    into = min(FOOT, socket.pin_length)
    if rod.diameter <= socket.wire_limit:
        action = f"Tin the rod's foot, {hold}, stand the rod in the cup and heat the rod, not the pin"
        return Foot(into, (), f"foot goes into the cup; {counts}", action)
    thin = f"{socket.wire_limit * 1e3:.1f} mm"
    action = f"Turn or file {into * 1e3:.0f} mm of the rod's foot down to {thin} and tin it, {hold}, stand it in the cup and heat the rod"
    return Foot(into, (), f"too thick for the cup: foot turned down to {thin}; {counts}", action)


def rod_pieces(socket: Connector, rod: Conductor, *, length: float, datum: str) -> tuple[Piece, ...]:
    """A rod whose tip stands ``length`` [m] from the face, and what its foot needs: the pin is the first part of the length."""
    foot = foot_of(socket, rod)
    allowances = [Allowance("the pin", -socket.pin_length, "datum")]
    if foot.in_cup > 0.0:
        allowances.append(Allowance("foot in the cup", foot.in_cup, "datum"))
    allowances.append(Allowance("trim", TRIM * length))
    remark = f"trim from the tip after the first sweep; cap or loop the tip; {foot.remark}"
    piece = Piece(
        "rod", 1, rod.kind, rod.material, rod.diameter, length, tuple(allowances), datum, stock=rod.stock, remark=remark
    )
    return (piece, *foot.extra)


def rod_steps(socket: Connector, rod: Conductor, *, length: float) -> tuple[WorkStep, ...]:
    """The rod onto the socket, in the order that keeps the pin in the middle of its insulator."""
    upright = f"rod upright, pin still in the middle, tip {length * 1e3:.0f} mm from the face and the trim stock beyond"
    return (
        WorkStep(foot_of(socket, rod).action, upright, "hot metal; solder fumes"),
        WorkStep("Measure between rod and shell, then from the plug's pin to the rod's tip",
                 "open (over 1 megohm) to the shell; under 0.5 ohm to the tip"),
    )  # fmt: skip
