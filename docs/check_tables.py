"""Every check against what is not ours as tables of docs/checks.md: reference values from the tests' own data, ours computed here."""

from __future__ import annotations

import ast
import importlib
import math
import re
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
PUBLISHED = ROOT / "tests" / "published"
Row = tuple[str, str, str, str, str]
ELSEWHERE = "computed elsewhere, not published"


def tests(name: str) -> ModuleType:
    """A module of tests/published as data."""
    for folder in (PUBLISHED, ROOT / "tests" / "reference"):
        if str(folder) not in sys.path:
            sys.path.insert(0, str(folder))
    return importlib.import_module(name)


def parameters(test: Callable[..., None]) -> list[tuple[Any, ...]]:
    """The rows a test function is parametrised with."""
    values = list(test.pytestmark[0].args[1])  # type: ignore[attr-defined]
    return [value if isinstance(value, tuple) else (value,) for value in values]


def table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    """A markdown table."""
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    return "\n".join(lines + ["| " + " | ".join(row) + " |" for row in rows])


def ohm(z: complex) -> str:
    """An impedance to 0.1 ohm."""
    return f"{z.real:.1f} {'+' if z.imag >= 0 else '-'} j{abs(z.imag):.1f}"


def share(part: float) -> str:
    """A relative difference."""
    return f"{100 * part:.2f} %"


def row(what: str, source: str, reference: complex, found: complex) -> Row:
    """A line for two impedances: the size of their difference, and the same relative to the reference."""
    size = abs(found - reference)
    return (
        what,
        source,
        f"{ohm(reference)} ohm",
        f"{ohm(found)} ohm",
        f"{size:.1f} ohm, {100 * size / abs(reference):.1f} %",
    )


def number(what: str, source: str, reference: float, found: float, unit: str = "", digits: int = 4) -> Row:
    """A line for two real values, with their relative difference; levels and angles differ by dB and degrees."""
    apart = f"{abs(found - reference):.2f} {unit.removesuffix('i')}"
    if not unit.startswith(("dB", "degree")) or unit.startswith("dB/"):
        apart = share(abs(found - reference) / abs(reference))
    unit = f" {unit}" if unit else ""
    return (what, source, f"{reference:.{digits}g}{unit}", f"{found:.{digits}g}{unit}", apart)


def finite_elements() -> tuple[list[tuple[str, ...]], list[tuple[str, ...]]]:
    """The engine against the stored finite-element table: held mouth field, and with a real coaxial line below."""
    import numpy as np

    module = tests("test_finite_element_reference")
    held, free = [], []
    for case in module.CASES:
        sweep = module.engine(case.name)
        want = module.stored(case.name, module.GIVEN)
        relative = abs(sweep.impedance - want) / abs(want)
        k = int(np.argmax(relative))
        span = f"{case.frequency[0] / 1e6:g} to {case.frequency[-1] / 1e6:g} MHz"
        own = max(module.TABLE[case.name][module.GIVEN]["own_error"])
        inside = int(np.sum(abs(sweep.impedance - want) < sweep.impedance_error))
        held.append((case.name, span, f"{case.frequency[k] / 1e6:g} MHz", f"{ohm(want[k])} ohm", f"{ohm(sweep.impedance[k])} ohm",
                     share(relative[k]), f"{100 * own:.3f} %", f"{inside} of {len(want)}"))  # fmt: skip
        if case.coaxial is not None:
            line = module.stored(case.name, module.LINE)
            relative = abs(sweep.impedance - line) / abs(line)
            k = int(np.argmax(relative))
            free.append((case.name, f"{case.frequency[k] / 1e6:g} MHz", f"{ohm(line[k])} ohm", f"{ohm(sweep.impedance[k])} ohm",
                         share(relative[k])))  # fmt: skip
    return held, free


def carter() -> Iterator[Row]:
    """Thin wires, extrapolated to no thickness, against the induced-EMF closed forms."""
    m = tests("test_carter_1932")
    source = "Carter 1932, closed form"
    exact = m.self_impedance(0.5, 1e-9)
    single = m.over_radii(m.single)
    yield row("half-wave dipole", source, exact, m.limit(single))
    yield row("quarter-wave rod over a perfect plane", source, exact / 2, m.limit(m.over_radii(m.monopole)))
    for (distance,) in parameters(m.test_mutual_impedance_side_by_side):

        def even(radius: float, d: float = distance) -> Any:
            return m.fed(radius, m.upright(radius, x=d / 2, copies=2))

        def odd(radius: float, d: float = distance) -> Any:
            h = d / 2 * m.WAVE
            return m.fed(radius, m.Rod("rod", ((-m.WAVE / 4, 0, h), (m.WAVE / 4, 0, h)), radius), ground="perfect")

        z = (m.over_radii(even) - m.over_radii(odd)) / 2
        yield row(
            f"mutual, half waves side by side, {distance:g} wavelengths",
            source,
            m.mutual_side_by_side(distance),
            m.limit(z),
        )
    yield number(
        "directivity of a thin half-wave dipole",
        "4/Cin(2 pi), Balanis",
        m.SINUSOIDAL_DIRECTIVITY,
        m.directivity(1e-5),
        "dBi",
    )
    for radius, (length, resistance) in m.RESONANT.items():
        ours = m.brentq(lambda at, a=radius: m.self_impedance(at, a).imag, 0.4, 0.499)
        source = "induced EMF, evaluated elsewhere (ours: the formula, not the engine)"
        yield number(f"resonant length, radius {radius:g} wavelengths", source, length, ours, "wavelengths", 5)
        yield number("its resistance", source, resistance, m.self_impedance(ours, radius).real, "ohm")
    source = "Carter 1932, closed form"
    radii = m.RADII[:5]
    alone = m.over_radii(lambda a: m.fed(a, m.upright(a, x=0.1)), radii)
    for (gap,) in parameters(m.test_mutual_impedance_in_line):
        z = m.over_radii(lambda a, g=gap: m.fed(a, m.upright(a, x=1e-9, low=g / 2), ground="perfect"), radii) - alone
        yield row(
            f"mutual, half waves in line, {gap:g} wavelengths apart", source, m.mutual_collinear(gap), m.limit(z, radii)
        )


def hallen() -> Iterator[Row]:
    """Thick dipoles against Hallén's equation with the exact kernel, solved in the tests by another method."""
    m = tests("test_king_hallen")
    for length, radius, gap in parameters(m.test_hallen_equation_with_the_exact_kernel):
        y = m.hallen_admittance(length, radius, gap, 120 if length == 0.25 else 80)
        found = m.impedance(m.open_tube(length, radius, gap=gap))
        yield row(
            f"open tube, {length:g} long, radius {radius:.2g} wavelengths",
            "Hallén's equation, collocation",
            1 / y,
            found,
        )
    for length, radius, expected, _, _ in m.SECOND_OPINION:
        g = 0.5 * radius
        found = 1 / (1 / m.impedance(m.open_tube(length, radius, gap=g)) + m.inner_admittance(radius, g))
        yield row(
            f"delta gap on a tube, {length:g} long, radius {radius:.2g} wavelengths",
            ELSEWHERE,
            expected,
            found,
        )
    for omega, length, peak in parameters(m.test_first_antiresonance):
        at, r = m.antiresonance(omega, length)
        yield number(
            f"first antiresonance, Omega {omega:g}", f"{ELSEWHERE}; hangs on the gap", length, at, "wavelengths"
        )
        yield number("its resistance", f"{ELSEWHERE}; hangs on the gap", peak, r, "ohm")
    for ratio, length in m.SHORTENED.items():
        yield number(f"resonant length, length over diameter {ratio}", "Stutzman and Thiele, from memory", length,
                     m.resonant_length(ratio), "wavelengths")  # fmt: skip


def cones() -> Iterator[Row]:
    """Long and short cones."""
    import numpy as np

    m = tests("test_schelkunoff_1941")
    for degrees, closed in parameters(m.test_line_impedance_of_a_long_bicone):
        bicone = m.bicone(math.radians(degrees), slant=3.0, tip=0.002)
        system = m.prepare(bicone, top_frequency=m.c / 0.95, settings=m.MeshSettings())
        z = np.array([1 / system.solve(f).admittance for f in np.linspace(m.c / 1.2, m.c / 0.95, 15)])
        found = math.sqrt(z.real.max() * z.real.min())
        yield (f"line impedance of a long bicone, {degrees:g} degrees", "Schelkunoff 1941, closed form", f"{closed:.1f} ohm",
               f"{found:.1f} ohm", share(abs(found / closed - 1)))  # fmt: skip
    for degrees, expected in m.MODE_MATCHING.items():
        yield row(f"capped cone over a plane, {degrees:g} degrees, ka 2", "mode matching, computed elsewhere, not published", expected,
                  m.sharp_impedance(degrees, 2.0, cap=True))  # fmt: skip
    for ka, expected in parameters(m.test_open_cone_over_ground):
        yield row(f"open cone over a plane, 30 degrees, ka {ka:g}", "computed elsewhere, not published", expected,
                  m.sharp_impedance(30, ka, cap=False))  # fmt: skip
    for ka, expected in m.PAPAS_KING.items():
        yield row(f"formula of Papas and King, 30 degrees, ka {ka:g} (ours: the formula, not the engine)", "evaluated elsewhere",
                  expected, m.papas_king(30, ka))  # fmt: skip
    for slant, (peak, angle, horizon) in m.DISCONE_BEAM.items():
        found = m.discone_beam(slant)
        what = f"discone of {slant:g} wavelengths slant"
        yield number(f"{what}: peak", ELSEWHERE, peak, found[0], "dBi", 3)
        yield number(f"{what}: from the zenith", ELSEWHERE, angle, found[1], "degrees", 3)
        yield number(f"{what}: horizon", ELSEWHERE, horizon, found[2], "dBi", 3)


def discs() -> Iterator[Row]:
    """Monopoles over discs and skirts, and cages of wires."""
    import numpy as np

    m = tests("test_disc_monopole")
    _, lone = m.lone_element()
    system, solved, _ = m.solve(m.over_disc(0.02))
    horizon = 10 * math.log10(m.directivity(system, solved, np.array([math.pi / 2]))[0])
    yield number(
        "quarter wave over a vanishing disc",
        "sinusoidal current, integrated in the test",
        10 * math.log10(lone),
        horizon,
        "dBi",
    )
    for droop, expected in m.SKIRTS.items():
        yield row(
            f"quarter wave over a skirt of 0.25, droop {droop} degrees",
            ELSEWHERE,
            expected,
            m.solve(m.over_skirt(droop))[2],
        )
    m = tests("test_cage_uchida")
    for radius, _ in parameters(m.test_thick_wires_make_the_tube):
        whole = 1 / m.admittance(m.tube(0.46, radius, 2.1 * radius))
        for count in (3, 6, 12, 24):
            found = 1 / m.admittance(m.cage(count, 0.46, radius, radius / count, 2.1 * radius))
            yield row(f"cage of {count} wires of R/N, R {radius:g} wavelengths", "Uchida, second hand: the tube of radius R (solved)",
                      whole, found)  # fmt: skip


def plastic() -> Iterator[tuple[str, ...]]:
    """Shift of the resonance by plastic against finite elements, and the worst impedance from 0.86 to 0.98 of the quarter wave."""
    import numpy as np

    m = tests("test_plastic_reference")
    for name in m.NAMES:
        f = np.array(m.case_named(name).bare.frequency)
        bare, coated = m.engine(name)
        want = m.stored(name, "plastic_ohm")
        shift, expected = m.resonance(f, coated) / m.resonance(f, bare) - 1, m.TABLE[name]["shift"]
        worst = float(np.max((abs(coated - want) / abs(want))[1:5]))
        yield (name, f"{100 * expected:.3f} %", f"{100 * shift:.3f} %", share(abs(shift / expected - 1)), share(worst),
               f"{100 * max(m.TABLE[name]['own_error']):.3f} %")  # fmt: skip


def metals() -> Iterator[Row]:
    """Conductivity, skin, wire and gauges."""
    m = tests("test_metals_and_gauges")
    yield number(
        "resistivity of copper", "IEC 28, second hand", 1.7241e-8, 1 / m.metal("copper").conductivity, "ohm m", 5
    )
    for name, percent, _ in parameters(m.test_aluminium_alloys):
        source = "table of alloys, read" if "1350" in name else "from memory"
        yield number(
            f"aluminium {name.split()[-1]}", source, percent, m.metal(name).conductivity / m.IACS * 100, "% IACS", 3
        )
    yield number(
        "brass 70/30", "Kaye and Laby, from memory", 28.0, m.metal("brass").conductivity / m.IACS * 100, "% IACS", 3
    )
    yield number(
        "stainless steel", "Kaye and Laby, from memory", 0.72, 1e6 / m.metal("stainless").conductivity, "micro-ohm m", 3
    )
    for name, conductivity in parameters(m.test_trade_list):
        yield number(name, "trade list, read", conductivity / 1e6, m.metal(name).conductivity / 1e6, "MS/m", 3)
    for megahertz, depth in parameters(m.test_skin_depth_of_copper):
        yield number(f"skin depth of copper, {megahertz} MHz", "formula, worked out apart", depth,
                     m.metal("copper").skin_depth(megahertz * 1e6) * 1e6, "um")  # fmt: skip
    copper = m.Metal("copper", m.metal("copper").conductivity)
    radius = 0.5 * m.parse_length("10 AWG")
    ratio = m.rod_impedance(copper, radius=radius, frequency=1e5).real * copper.conductivity * math.pi * radius**2
    yield number("AWG 10 at 100 kHz over direct current", "Terman, second hand", 3.36, ratio, "", 3)
    for millimetres, ohm_per_metre in parameters(m.test_resistance_of_copper_wire_at_145_megahertz):
        found = m.rod_impedance(copper, radius=0.5e-3 * millimetres, frequency=145e6).real
        yield number(
            f"copper wire {millimetres:g} mm at 145 MHz",
            "Bessel form, worked out apart",
            ohm_per_metre,
            found,
            "ohm/m",
            5,
        )
    gauges = (
        ("AWG", "ASTM B258, from memory", m.test_american_wire_gauge, 1e3, "mm"),
        ("SWG", "BS 3737, second hand", m.test_imperial_standard_wire_gauge, 1e3, "mm"),
        ("W&M", "gauge chart, read", m.test_steel_wire_gauge, 1 / 0.0254, "in"),
    )
    for system, source, test, factor, unit in gauges:
        for size, diameter in parameters(test):
            yield number(f"{size} {system}", source, diameter, m.parse_length(f"{size} {system}") * factor, unit)


def lines() -> Iterator[Row]:
    """Coax, mismatch, noise."""
    import numpy as np

    m = tests("test_line_values")
    for inner, outer, permittivity, z0, velocity, picofarad in parameters(m.test_coaxial_line):
        what = f"coax {inner:g}/{outer:g} mm, permittivity {permittivity:g}"
        ours = m.coaxial_impedance(inner_diameter=inner, outer_diameter=outer, permittivity=permittivity)
        factor = m.velocity_factor(permittivity=permittivity)
        yield number(what, "TEM line, worked out apart", z0, ours, "ohm")
        yield number("its velocity factor", "TEM line, worked out apart", velocity, factor)
        yield number("its capacitance", "TEM line, worked out apart", picofarad,
                     m.coaxial_capacitance(impedance=ours, velocity_factor=factor) * 1e12, "pF/m")  # fmt: skip
    for name, megahertz, loss in parameters(m.test_loss_per_100_metres):
        yield number(f"{name} at {megahertz} MHz", "Codan guide, read", loss, 100 * m.cable(name).loss_per_metre(megahertz * 1e6),
                     "dB/100 m", 3)  # fmt: skip
    for name, megahertz, limit in parameters(m.test_typical_loss_lies_below_the_specified_maximum):
        found = m.FEET_100 * m.cable(name).loss_per_metre(megahertz * 1e6)
        yield (f"{name} at {megahertz} MHz, most", "MIL-C-17G, second hand", f"{limit:g} dB/100 ft", f"{found:.2f} dB/100 ft",
               inside(found, 0, limit))  # fmt: skip
    for name, low, high in parameters(m.test_velocity_factors):
        found = m.cable(name).velocity_factor
        yield (
            f"velocity factor of {name}",
            "data sheet, read",
            f"{low:g} to {high:g}",
            f"{found:g}",
            inside(found, low, high),
        )
    for ratio, returned, lost, _ in parameters(m.test_return_loss_and_mismatch_loss):
        size = m.reflection_of_swr(ratio)
        yield number(f"return loss at SWR {ratio:g}", "definition", returned, float(m.return_loss_db(size)), "dB")
        yield number(f"mismatch loss at SWR {ratio:g}", "definition", lost, float(m.mismatch_loss_db(size)), "dB")
    for loss, read in parameters(m.test_swr_read_through_coax):
        found = m.swr_of(m.reflection_of_swr(np.array([2.0, 3.0, 5.0, 10.0, np.inf])) * 10 ** (-loss / 10))
        apart = float(np.max(np.abs(found / np.array(read) - 1)))
        yield (f"SWR 2, 3, 5, 10, open read through {loss:g} dB", "worked out by hand", ", ".join(f"{v:g}" for v in read),
               ", ".join(f"{v:.2f}" for v in found), share(apart))  # fmt: skip
    for name, at_one_megahertz, per_decade in parameters(m.test_man_made_noise):
        found = m.man_made_noise_db(name, frequency=np.array([1e6, 1e7]))
        yield number(f"man-made noise, {name}, 1 MHz", "ITU-R P.372, read", at_one_megahertz, float(found[0]), "dB")
        yield number(
            f"man-made noise, {name}, 10 MHz", "ITU-R P.372, read", at_one_megahertz - per_decade, float(found[1]), "dB"
        )
    found = m.cascade_db((2.0, -2.0), (1.5, 18.0), (1.0, -1.0), (8.0, 0.0))
    yield number("filter, amplifier, filter, mixer", "Friis 1944, worked out apart", 3.826, found, "dB")


def error_band() -> list[tuple[str, ...]]:
    """The stored study of the printed error, by class of antenna."""
    m = tests("test_error_band")
    rows = []
    for label in m.TABLE["classes"]:
        mine = [row for row in m.TABLE["designs"] if row["class"] == label]
        sweeps = [row["solves"] for row in m.TABLE["sweeps"] if row["class"] == label]
        held = sum(all(d <= p for d, p in zip(row["difference"], row["printed"], strict=True)) for row in mine)
        finest = [row for row in mine if "difference_finest" in row]
        again = sum(
            all(d <= p for d, p in zip(row["difference_finest"], row["printed"], strict=True)) for row in finest
        )
        worst = max((max(row["difference"]) for row in mine), default=math.nan)
        printed = sorted(max(row["printed"]) for row in mine)
        middle = printed[len(printed) // 2] if printed else math.nan
        rows.append((label, f"{held} of {len(mine)}", f"{again} of {len(finest)}", f"{worst:.2f} %", f"{middle:.2f} %",
                     f"{max(sweeps)}" if sweeps else ""))  # fmt: skip
    return rows


def trade() -> Iterator[Row]:
    """Rules that people who build these things go by."""
    import numpy as np

    m = tests("test_trade_rules")
    source = "common practice, no source"
    bare = "thin wires without a hub, computed elsewhere, not published"
    whip, flat = m.trimmed(0)
    yield (
        "four flat radials, rod cut to resonance",
        source,
        "18 to 24 ohm",
        f"{flat.real:.1f} ohm",
        inside(flat.real, 18, 24),
    )
    yield ("how short the rod is cut for that", source, "a few per cent", f"{100 * (1 - whip / 0.25):.1f} %", "")
    drooped = {droop: m.trimmed(droop)[1].real for droop in (35, 40, 45, 50)}
    at = float(np.interp(50.0, list(drooped.values()), list(drooped)))
    yield ("droop that gives 50 ohm", source, "35 to 50 degrees", f"{at:.1f} degrees", inside(at, 35, 50))
    for droop, expected in parameters(m.test_drooping_radials_of_full_quarter_waves):
        yield row(f"rod and radials of full quarter waves, {droop:g} degrees", bare,
                  expected, m.impedance(m.ground_plane(4, droop, hub=0.005, shell=0.004)))  # fmt: skip
    for count, expected in m.MORE_RADIALS.items():
        yield row(f"{count} flat radials of full quarter waves", bare, expected, m.flat_radials(count))
    peak, _, horizon = m.beam_at_45_degrees()
    yield number("four radials at 45 degrees: peak", bare, 1.90, peak, "dBi", 3)
    yield number("four radials at 45 degrees: horizon", bare, 1.89, horizon, "dBi", 3)
    for wires in (None, 16, 8):
        f = np.linspace(0.9, 1.3, 33) * 100e6
        system = m.prepare(m.discone(100e6, wires), top_frequency=float(f[-1]), settings=m.MeshSettings())
        z = np.array([1 / system.solve(float(x)).admittance for x in f])
        size = abs((z - 50) / (z + 50))
        crossing = float(np.interp(-2.0, -(1 + size) / (1 - size), f)) / 100e6
        name = "sheet" if wires is None else f"{wires} wires"
        yield (f"discone of {name}, slant 270/f feet: SWR falls below 2 at", "handbook rule, from memory", "near f",
               f"{crossing:.2f} f", share(crossing - 1))  # fmt: skip


def real_ground() -> Iterator[Row]:
    """Waves along real ground, the impedance it reflects, and its constants."""
    m = tests("test_ground_waves")
    for (relative,) in parameters(m.test_norton_surface_wave):
        expected, found = m.attenuation(relative, 16.0), m.surface_field(relative, 16.0)
        yield (
            f"surface wave at 16 wavelengths, permittivity {relative.real:g} - j{-relative.imag:g}",
            "Norton 1937, first order in 1/(kr)",
            f"{abs(expected):.3f}",
            f"{abs(found):.3f}",
            share(abs(found / expected - 1)),
        )
    for name in ("average ground", "sea water"):
        for height in (0.5, 1.5):
            expected, found = m.reflected(height, m.Ground.named(name))
            yield row(
                f"change of a level dipole {height:g} wavelengths over {name}",
                "image times R straight down",
                expected,
                found,
            )
    for kind, _, _, expected, _ in m.ABOVE_ONE_GIGAHERTZ:
        found = m.Ground.named(kind).at(1e9)[1]
        yield (
            f"conductivity of {kind} at 1 GHz",
            "ITU-R P.2040-2",
            f"{expected:g} S/m",
            f"{found:g} S/m",
            share(abs(found / expected - 1)),
        )


def inside(value: float, low: float, high: float) -> str:
    """Whether a value lies in a span."""
    return "inside" if low <= value <= high else "outside"


def modules() -> list[tuple[str, ...]]:
    """Every module of published checks: its number of checks and what it says of itself."""
    rows = []
    for path in sorted(PUBLISHED.glob("test_*.py")):
        tree = ast.parse(path.read_text("utf-8"))
        about = " ".join((ast.get_docstring(tree) or "").split("\n\n")[0].split())
        about = re.sub(r"\s*\[@[\w-]+(?:, [\w-]+)?\]", "", about)
        count = sum(isinstance(node, ast.FunctionDef) and node.name.startswith("test_") for node in tree.body)
        rows.append((f"[{path.name}](../tests/published/{path.name})", f"{count}", about))
    return rows


def checks_text() -> str:
    """docs/checks.md."""
    held, free = finite_elements()
    head = ("what", "source", "reference", "ours", "difference")
    return "\n".join([
        "# Checks against what is not ours",
        "",
        "Made by `python docs/generate.py` from the data of the tests and the engine as it is; `tests/docs` fails when it is out of step. "
        "Impedances are at the feed. Values that were computed elsewhere and never published are marked so: they are a second opinion, "
        "not an authority. What the tables do not show, because nobody has measured it yet: a real antenna on a real mast.",
        "",
        "## Finite elements",
        "",
        "The same metal, solved as a differential equation in space (scikit-fem, order 4, "
        "[tests/reference/axisymmetric_fem.py](../tests/reference/axisymmetric_fem.py)), "
        "field in the feed's mouth held on both sides. Shown is the worst of the frequencies. *own error* is the difference of the "
        "reference's two meshes; *held* counts the frequencies at which the reference lies inside the error that the program states.",
        "",
        table(("case", "over", "worst at", "finite elements", "ours", "difference", "own error", "held"), held),
        "",
        "With a piece of real coaxial line below the mouth (the field there is then free, as it is in life):",
        "",
        table(("case", "worst at", "finite elements", "ours", "difference"), free),
        "",
        "## Thin wires",
        "",
        "Closed forms hold for wires of no thickness; the program solves real ones. So it is run at several radii and the limit is "
        "compared.",
        "",
        table(head, list(carter())),
        "",
        "## Thick rods and tubes",
        "",
        table(head, list(hallen())),
        "",
        "## Cones",
        "",
        table(head, list(cones())),
        "",
        "## Real ground",
        "",
        "The height of the surface wave is over that of perfect ground's far field. A dipole's energy over real ground, and the limit of "
        "perfect ground, are among the [laws](../tests/laws/test_ground.py).",
        "",
        table(head, list(real_ground())),
        "",
        "## Discs, skirts, cages",
        "",
        table(head, list(discs())),
        "",
        "## Plastic",
        "",
        "Shift of a monopole's resonance by plastic round it, against finite elements with the plastic in space "
        "([tests/reference/make_plastic_reference.py](../tests/reference/make_plastic_reference.py)).",
        "",
        table(("case", "finite elements", "ours", "difference", "worst of impedance", "own error"), list(plastic())),
        "",
        "## What the trade goes by",
        "",
        table(head, list(trade())),
        "",
        "## Metals and gauges",
        "",
        table(head, list(metals())),
        "",
        "## Lines, mismatch, noise",
        "",
        table(head, list(lines())),
        "",
        "## The printed error",
        "",
        "Random antennas of every kind, solved as people get them and on two finer meshes "
        "([tests/reference/make_error_band.py](../tests/reference/make_error_band.py)). *held* counts designs whose difference stays "
        "inside the printed error at all three frequencies; *solves* is the most that a 201-point sweep took.",
        "",
        table(("kind", "held, finer mesh", "held, finest mesh", "worst difference", "printed, middle", "solves"), error_band()),
        "",
        "## Everything that is checked against a source",
        "",
        table(("tests", "checks", "what they say of themselves"), modules()),
    ]) + "\n"  # fmt: skip
