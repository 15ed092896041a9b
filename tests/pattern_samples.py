"""Patterns that several tests measure: one of each kind, in the sizes that builders cut."""

from __future__ import annotations

from dataclasses import replace

from aerialwright.antennas.workpiece import Bend, ConeSheet, HoleCircle, Plate
from aerialwright.sheet.bend_pattern import Helix, bend_gauge, spoke_hub, wrap_strip
from aerialwright.sheet.cone_pattern import cone_pattern
from aerialwright.sheet.drawing import Pattern
from aerialwright.sheet.plate_pattern import plate_pattern, socket_template
from aerialwright.stock.connectors import connector

CONE = ConeSheet(neck_radius=0.015, rim_radius=0.315, slant=0.6, seam_lap=0.015, gores=2)
DISC = Plate(
    across=0.3,
    holes=(HoleCircle(0.0, 1, 0.016, "socket body"), HoleCircle(0.02582, 4, 0.0033, "socket screws", 45.0)),
    thickness=0.001,
)
BEND = Bend(start=0.3, angle=45.0, inside_radius=0.0064)
ROD = 0.0032


def cone() -> Pattern:
    return cone_pattern(CONE, name="Cone gore", quantity=1, material="aluminium sheet, 0.8 mm thick")


def disc() -> Pattern:
    """A disc on several pages: without the compass, which would keep it off them."""
    return replace(plate_pattern(DISC, name="Disc", quantity=1, material="aluminium sheet, 1 mm thick"), compass=())


def gauge() -> Pattern:
    material = "gauge for brass rod, Ø3.2 mm"
    return bend_gauge(
        BEND, thickness=ROD, legs=(0.3, 0.2), name="Bend gauge 45°: radial", quantity=1, material=material
    )


def hub(**changes: float) -> Pattern:
    sizes = {
        "hub_diameter": 0.06,
        "spoke_diameter": ROD,
        "depth": 0.012,
        "bore_diameter": 0.016,
        "droop": 30.0,
    } | changes
    count = int(sizes.pop("count", 12))
    return spoke_hub(count=count, **sizes, name="Spoke hub", quantity=1, material="brass round bar")


def strip() -> Pattern:
    marks = [(30.0 * k, f"{30 * k}°") for k in range(12)]
    helix = Helix(pitch=0.025)
    return wrap_strip(
        pipe_diameter=0.04, height=0.06, angles=marks, rings=[(0.02, "hole line")], helix=helix,
        name="Wrap strip", quantity=1, material="paper",
    )  # fmt: skip


def sockets() -> list[Pattern]:
    return [socket_template(connector(key)) for key in ("N", "UHF", "BNC", "SMA", "F")]


def everything() -> list[Pattern]:
    return [cone(), disc(), gauge(), hub(), strip(), *sockets()]
