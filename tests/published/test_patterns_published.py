"""Flat patterns against worked examples and drawings from outside."""

from __future__ import annotations

import math

import pytest

from aerialwright.antennas.workpiece import ConeSheet
from aerialwright.sheet.cone_pattern import develop
from aerialwright.sheet.drawing import Circle
from aerialwright.sheet.plate_pattern import socket_template
from aerialwright.stock.connectors import connector

INCH = 0.0254


def test_frustum_between_two_ducts() -> None:
    """Worked example [@frustum-net]: ends of 5 and 8 in, 4 in apart; the example rounds to 0.01 in and 0.1 degree."""
    slant = math.hypot(4.0, 1.5) * INCH
    flat = develop(ConeSheet(neck_radius=2.5 * INCH, rim_radius=4.0 * INCH, slant=slant, seam_lap=0.0))
    assert flat.inner / INCH == pytest.approx(7.12, abs=0.006)
    assert flat.outer / INCH == pytest.approx(11.39, abs=0.006)
    assert flat.angle == pytest.approx(126.4, abs=0.06)
    assert flat.height / INCH == pytest.approx(4.0, abs=1e-9)


def test_cone_with_a_right_angle_at_its_point() -> None:
    """Example of the layout rule [@cone-layout]: a 90 degree point takes 254.6 degrees of the circle."""
    flat = develop(ConeSheet(neck_radius=0.0, rim_radius=0.1, slant=0.1 * math.sqrt(2.0), seam_lap=0.0))
    assert flat.angle == pytest.approx(254.6, abs=0.05)
    assert flat.outer == pytest.approx(0.1 * math.sqrt(2.0))


def test_sixty_degrees_is_half_a_circle() -> None:
    """sin 30 degrees is exactly one half, so the sector is exactly half a circle; in two gores a quarter each."""
    assert develop(ConeSheet(0.02, 0.32, 0.6, 0.0)).angle == pytest.approx(180.0, abs=1e-9)
    assert develop(ConeSheet(0.02, 0.32, 0.6, 0.0, gores=2)).angle == pytest.approx(90.0, abs=1e-9)


def test_limits_of_a_cone() -> None:
    """A nearly flat cone unrolls to a full ring of its own radii, a nearly straight tube to a strip as long as its girth."""
    flat = develop(ConeSheet(0.05, 0.15, 0.1 * (1.0 + 1e-8), 0.0))
    assert flat.angle == pytest.approx(360.0, abs=1e-4)
    assert (flat.inner, flat.outer) == (pytest.approx(0.05), pytest.approx(0.15))
    tube = develop(ConeSheet(0.05, 0.0501, 0.3, 0.0))
    assert math.radians(tube.angle) * tube.inner == pytest.approx(2.0 * math.pi * 0.05, rel=1e-9)


@pytest.mark.parametrize(
    ("key", "square", "hole", "within"),
    [
        # Holes of a public footprint [@bnc-footprint].
        ("BNC", 12.70e-3, 2.79e-3, 0.1e-3),
        # Catalogue drawings from memory [@mil-std-348].
        ("N", 18.26e-3, 3.35e-3, 0.15e-3),
        ("UHF", 18.26e-3, 3.35e-3, 0.15e-3),
        ("SMA", 8.64e-3, 2.6e-3, 0.1e-3),
    ],
)
def test_flange_holes(key: str, square: float, hole: float, within: float) -> None:
    circles = [e for e in socket_template(connector(key)).drawing.on("cut") if isinstance(e, Circle)]
    screws = [c for c in circles if c.centre != (0.0, 0.0)]
    assert len(screws) == 4
    for screw in screws:
        assert screw.radius == pytest.approx(0.5 * hole, abs=0.5 * within)
        assert abs(screw.centre[0]) == pytest.approx(0.5 * square, abs=0.5 * within)
        assert abs(screw.centre[1]) == pytest.approx(0.5 * square, abs=0.5 * within)


@pytest.mark.parametrize("key", ["N", "UHF", "BNC", "SMA", "F"])
def test_a_template_from_memory_says_so(key: str) -> None:
    assert "From memory, measure yours before drilling" in socket_template(connector(key)).notes[0]
