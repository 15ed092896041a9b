"""Make the sweeps of the examples: computed, with a stated fault and the noise of a hand-held instrument, all of it invented.

``python examples/make_sweeps.py`` writes ``sweeps/`` of every example anew. The antennas are those of ``built/``, which came out of
an answer; a missing one is made by answering the example.
"""

from __future__ import annotations

import datetime
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from aerialwright.app.workflow import answer_need
from aerialwright.base.atomic import write_bytes_atomic
from aerialwright.bench.records import Plane
from aerialwright.design.evaluate import connector_sections
from aerialwright.lines.line import Line, line_from_need
from aerialwright.lines.mismatch import impedance_of, reflection
from aerialwright.lines.section import behind
from aerialwright.project.designs import read_design
from aerialwright.project.needs import read_need
from aerialwright.project.sweeps import SweepNote, add_sweep
from aerialwright.solution.records import ComplexArray, FloatArray
from aerialwright.solution.solve import solve

HERE = Path(__file__).resolve().parent
DAY = datetime.date(2026, 5, 16)
POINTS = 101
#: Noise (each part) and residual directivity of the invented instrument, against 50 ohm.
NOISE, DIRECTIVITY, INSTRUMENT = 0.0015, 0.006, 50.0


@dataclass(frozen=True)
class Invented:
    """One sweep: of which antenna, what was changed in it, how the feed line differs from its table, and what is written down."""

    example: str
    name: str
    antenna: str
    fault: str
    span: tuple[float, float]
    plane: Plane = field(default_factory=Plane)
    attached: str = "antenna"
    changes: dict[str, float] = field(default_factory=dict)
    loss: float = 1.0
    through_line: bool = False


MARINE, SPACE, AIR = (146e6, 172e6), (138e6, 154e6), (108e6, 175e6)
MADE = (
    Invented("marrow-head", "dipole-long", "dipole-thick", "cut 45 mm too long", MARINE, changes={"total_length": 0.045}),
    Invented("marrow-head", "dipole-trimmed", "dipole-thick", "none, within 1 mm of its drawing", MARINE, changes={"total_length": 0.001}),
    Invented("marrow-head", "coax-open", "", "none, 18 m of RG-213 with its far end open, 8 % more loss than its table", MARINE,
             attached="open", loss=1.08, through_line=True),
    Invented("marrow-head", "dipole-from-the-hut", "dipole-thick", "none, through the same 18 m of RG-213", MARINE,
             Plane("measured", far_ends=(("open", "coax-open"),)), changes={"total_length": 0.001}, loss=1.08, through_line=True),
    Invented("quillfen", "radials-flat", "ground-plane", "radials bent to 12 degrees of droop instead of 37", SPACE,
             changes={"radial_droop": -25.0}),
    Invented("quillfen", "from-the-classroom", "ground-plane", "none, through 10 m of RG-58 with 5 % more loss than its table", SPACE,
             Plane("line", "RG-58", 10.0), loss=1.05, through_line=True),
    Invented("tarn-edge", "cage-by-daylight", "cage-dipole", "none, within 1 mm of its drawing", AIR, changes={"total_length": -0.001}),
    Invented("tarn-edge", "wet-coax", "cage-dipole", "none in the antenna, but water in 25 m of RG-6, 2.2 times the loss of its table", AIR,
             Plane("line", "RG-6", 25.0), loss=2.2, through_line=True),
)  # fmt: skip


def antenna_impedance(one: Invented, frequency: FloatArray) -> ComplexArray:
    """Computed impedance behind the connector, with the fault built in."""
    need = read_need(HERE / one.example)
    stored = read_design(built(one.example, one.antenna)).design
    faulty = stored.with_values(**{key: stored.values[key] + change for key, change in one.changes.items()})
    z = solve(faulty.structure(), frequency).sweep.impedance
    return behind(connector_sections(stored, line_from_need(need.feed_lines[0])), load=z, frequency=frequency)


def built(example: str, antenna: str) -> Path:
    """The design file of an antenna, from an answer if it is not there yet."""
    path = HERE / example / "built" / f"{antenna}.toml"
    if not path.exists():
        path.parent.mkdir(exist_ok=True)
        with tempfile.TemporaryDirectory() as folder:
            answer_need(HERE / example, out=Path(folder))
            found = sorted((Path(folder) / "designs").glob(f"{antenna}-*.toml"))
            write_bytes_atomic(path, found[0].read_bytes())
    return path


def file_of(one: Invented, seed: int) -> str:
    """The file an instrument would have written."""
    f = np.linspace(*one.span, POINTS)
    feed = read_need(HERE / one.example).feed_lines[0]
    table = line_from_need(feed)
    line = Line("", table.impedance, table.length, table.velocity_factor, table.k1 * one.loss, table.k2 * one.loss)
    z0 = line.impedance
    there = np.ones(POINTS, complex) if one.attached == "open" else reflection(antenna_impedance(one, f), reference=z0)
    turn = np.exp(-2.0 * line.propagation(f) * line.length) if one.through_line else 1.0
    seen = reflection(impedance_of(there * turn, reference=z0), reference=INSTRUMENT)
    rng = np.random.default_rng(seed)
    angle = rng.uniform(0.0, 2.0 * np.pi)
    noise = rng.normal(scale=NOISE, size=POINTS) + 1j * rng.normal(scale=NOISE, size=POINTS)
    seen = seen + DIRECTIVITY * np.exp(1j * angle) + noise
    what = "the line alone" if one.attached != "antenna" else one.antenna
    lines = [
        "! INVENTED: computed by aerialwright, noise and directivity of a hand-held instrument added",
        f"! fault: {one.fault}",
        f"! {what}, example {one.example}",
        f"# Hz S RI R {INSTRUMENT:g}",
        *(f"{at:.0f} {value.real:.5f} {value.imag:.5f}" for at, value in zip(f, seen, strict=True)),
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Write them all."""
    for seed, one in enumerate(MADE):
        folder = HERE / one.example
        for ending in ("s1p", "toml"):
            (folder / "sweeps" / f"{one.name}.{ending}").unlink(missing_ok=True)
        data = file_of(one, seed).encode()
        note = f"Invented. Fault: {one.fault}."
        add_sweep(folder, data, SweepNote(one.name, f"{one.name}.s1p", DAY, one.antenna, one.plane, one.attached, note))
        print(f"{one.example}/sweeps/{one.name}.s1p: {len(data)} bytes")


if __name__ == "__main__":
    main()
