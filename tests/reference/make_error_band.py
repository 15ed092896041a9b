"""Does the printed error hold? Random antennas against the same antennas on much finer meshes; writes ``error_band.json``.

    OPENBLAS_NUM_THREADS=1 python tests/reference/make_error_band.py [designs]

Every plan of every family with random dimensions inside its bounds, and free forms: parasitic rods, bent rods, loops, crossed
arms, plastic and lumped loads. 40 MHz to 1.5 GHz. Each is solved as a user would, and again with ends cut four times
smaller, growth 2, elements half as long, one more degree and longer rules; every fourth with ends eight times smaller,
too. The second part sweeps one octave (narrow families) or 4:1 (discone, bicone) by the rational fit and at every point.
"""

from __future__ import annotations

import datetime
import json
import math
import platform
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

import numpy as np

from aerialwright.antennas.catalogue import families, family
from aerialwright.antennas.family import Family, Plan, Shelf, Span, Values, as_metal, flange_radius, with_diameters
from aerialwright.base.atomic import write_text_atomic
from aerialwright.base.errors import AerialwrightError, StructureError
from aerialwright.engine.geometry import build_geometry
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.overlap import check_overlap
from aerialwright.engine.sweep import EngineSettings, prepare, run_sweep
from aerialwright.need.model import Band, FarEnd, FeedLine, Limits, Need, Site, StockItem
from aerialwright.solution.solve import solve
from aerialwright.structure.model import Coating, Load, Metal, Rod, RodFeed, Structure

STORED = Path(__file__).with_name("error_band.json")
SEED = 20261125
DESIGNS = 209
SWEEPS = 3
LOWEST, HIGHEST = 40e6, 1.5e9
WIDE = ("discone", "bicone")
#: Four times finer than the default at the ends, twice in the middle, one degree more.
FINER = MeshSettings(longest=0.11, end_fraction=0.15, ratio=2.0, order=4, points=3, near_rule=(9, 18))
FINEST = MeshSettings(longest=0.08, end_fraction=0.075, ratio=1.7, order=4, extra=1, points=4, near_rule=(11, 22))

Random = np.random.Generator


@dataclass(frozen=True)
class Draw:
    """One random antenna: its class, metal and the sweep (n,) [Hz] it is asked for; ``span`` is what it was drawn for."""

    label: str
    structure: Structure
    frequency: np.ndarray
    span: Span


def _log(random: Random, low: float, high: float) -> float:
    return float(math.exp(random.uniform(math.log(low), math.log(max(low, high)))))


def _stock(random: Random, wave: float) -> tuple[StockItem, ...]:
    """A shelf with one of each kind, in sizes a builder would think of at that wavelength [m]."""
    kinds = ["copper", "brass", "aluminium", "stainless steel", "galvanised steel"]
    word = [str(random.choice(kinds)) for _ in range(4)]
    return (
        StockItem("rod", word[0], "rods", 40, diameter=_log(random, 1.5e-3, min(7.9e-3, 0.03 * wave)), length=8.0),
        StockItem(
            "tube", word[1], "tube", 4, diameter=_log(random, 8e-3, min(0.05, 0.1 * wave)), wall=1e-3, length=8.0
        ),
        StockItem("sheet", word[2], "sheet", 4, width=12.0, length=12.0, thickness=_log(random, 3e-4, 3e-3)),
        StockItem(
            "mesh", "galvanised steel", "cloth", 4, width=16.0, length=16.0, pitch=6.35e-3, wire_diameter=0.64e-3
        ),
    )


def _plans(kind: Family, random: Random, span: Span, *, polarisation: str = "vertical") -> list[Plan]:
    stock = _stock(random, span.wavelength(span.high))
    socket = str(random.choice(["UHF", "N", "BNC", "TNC", "SMA"]))
    every: dict[str, Plan] = {}
    # The sheet first, the mesh first: families take the first that is large enough.
    for shelf in (stock, (*stock[:2], stock[3])):
        need = Need(
            title="random", question="", bands=(Band("band", span.low, span.high),), far_end=FarEnd(),
            polarisation=polarisation, feed_lines=(FeedLine("RG-58", 10.0, 50.0),), site=Site("metal roof of a barn", metal_sheet=1000.0),
            limits=Limits(largest_size=30.0, worst_swr=3.0), connectors=(socket,), stock=shelf,
        )  # fmt: skip
        for plan in kind.plans(need, Shelf(need), span):
            every.setdefault(plan.key, plan)
    return list(every.values())


def _span(random: Random, wide: bool) -> Span:
    ratio = _log(random, 1.2, 4.0) if wide else 1.0 + random.uniform(0.01, 0.15)
    low = _log(random, LOWEST, HIGHEST / ratio)
    return Span(low, low * ratio)


def _values(kind: Family, plan: Plan, span: Span, random: Random) -> Values:
    """Tuned dimensions anywhere in their bounds, fixed ones anywhere near what the plan says."""
    values, _ = kind.first_guess(plan, span)
    counts = {"radial_count": (2, 8), "wire_count": (3, 12), "cone_wires": (4, 16), "disc_spokes": (4, 16)}
    for key, (low, high) in counts.items():
        if values.get(key):
            values[key] = float(random.integers(low, high + 1))
    if values.get("cone_wires") and values.get("disc_spokes"):
        # As many spokes as wires, or half: other numbers have less symmetry and take many times as long to solve.
        halved = values["cone_wires"] >= 8 and values["cone_wires"] % 2 == 0 and random.random() < 0.3
        values["disc_spokes"] = values["cone_wires"] / (2 if halved else 1)
        values["rim_ring"] = float(random.integers(0, 2))
    for key in ("gap", "hub_diameter", "neck_diameter", "disc_hub_diameter", "hub_radius"):
        if key in values:
            values[key] *= _log(random, 0.7, 1.8)
    if "neck_diameter" in values and "slant" in values and kind.key == "discone":
        values["neck_diameter"] = max(values["neck_diameter"], 2 * flange_radius(plan.socket))
    for key, (low, high) in kind.bounds(plan, span, values).items():
        limits = kind.parameter(key)
        values[key] = float(random.uniform(max(low, limits.lowest), min(high, limits.highest)))
    if "disc_spokes" in values and not values["disc_spokes"]:
        values["disc_hub_diameter"] = values["disc_diameter"]
    return values


def family_draw(key: str, plan_key: str, random: Random) -> tuple[Structure, Span]:
    """A plan of a family with random dimensions."""
    kind = family(key)
    span = _span(random, key in WIDE)
    level = plan_key.endswith("level")
    plans = _plans(kind, random, span, polarisation="horizontal" if level else "vertical")
    plan = next((plan for plan in plans if plan.key == plan_key.removesuffix(" level")), None)
    if plan is None:
        raise StructureError("not for this shelf", where=plan_key, mend="draw again")
    values = _values(kind, plan, span, random)
    return kind.structure(with_diameters(plan, values), values), span


def _metal(random: Random) -> Metal | None:
    return as_metal(str(random.choice(["copper", "brass", "aluminium", "stainless steel"])))


def _thin(random: Random, wave: float) -> float:
    return 0.5 * _log(random, 1e-3, min(12e-3, 0.03 * wave))


def parasitic_rods(random: Random, wave: float) -> Structure:
    """A dipole and one to four rods beside it, one of them perhaps a thick pole; some under plastic, some loaded."""
    radius, half = _thin(random, wave), 0.25 * wave * random.uniform(0.8, 1.15)
    coating = Coating(radius, radius + random.uniform(0.3e-3, 1.5e-3), 2.3, 2e-4) if random.random() < 0.3 else None
    rods = [Rod("dipole", ((0.0, 0.0, -half), (0.0, 0.0, half)), radius, 1, _metal(random), coating)]
    for number in range(int(random.integers(1, 5))):
        away, turn = wave * random.uniform(0.08, 0.4), random.uniform(0, 2 * math.pi)
        x, y, tilt = away * math.cos(turn), away * math.sin(turn), 0.03 * wave * random.uniform(-1, 1)
        pole = number == 0 and random.random() < 0.4
        thick = 0.5 * min(0.05, 0.06 * wave) if pole else _thin(random, wave)
        low, high = (-random.uniform(0.3, 1.5) * wave, -0.1 * wave) if pole else (-half, half)
        shift, size = wave * random.uniform(-0.05, 0.05), random.uniform(0.8, 1.2)
        points = ((x, y, low * size + shift), (x + tilt, y, high * size + shift))
        rods.append(Rod(f"rod {number}", points, thick, 1, _metal(random)))
    loads = (Load("rod 0", 0.05 * wave, 5.0, 3e-8),) if random.random() < 0.3 else ()
    feed = RodFeed("dipole", half * random.uniform(0.8, 1.2), _log(random, 2e-3, 0.02 * wave))
    return Structure("parasitic rods", tuple(rods), (), feed, loads=loads)


def bent_rods(random: Random, wave: float) -> Structure:
    """One rod with one to three bends, in space or on the plane (there fed at its foot)."""
    radius, plane = _thin(random, wave), random.random() < 0.5
    point = np.array([0.02 * wave, 0.01 * wave, 0.0 if plane else 0.03 * wave])
    step = np.array([0.0, 0.0, 1.0]) if plane else _turned(random, np.array([1.0, 0.0, 0.0]), 20, 60)
    points = [tuple(point)]
    for _ in range(int(random.integers(2, 5))):
        point = point + step * wave * random.uniform(0.06, 0.25)
        points.append(tuple(point))
        step = _turned(random, step, 15, 100)
        if plane:
            step[2] = abs(step[2])
            step /= np.linalg.norm(step)
    first = math.dist(points[0], points[1])
    width = _log(random, 2e-3, 0.1 * first)
    feed = RodFeed("rod", 0.0 if plane else first * random.uniform(0.4, 0.6), width)
    rod = Rod("rod", tuple((float(x), float(y), float(z)) for x, y, z in points), radius, 1, _metal(random))
    return Structure("bent rods", (rod,), (), feed, ground="perfect" if plane else "none")


def _turned(random: Random, step: np.ndarray, least: float, most: float) -> np.ndarray:
    """A unit vector at ``least`` to ``most`` degrees from ``step``."""
    across = np.cross(step, random.normal(size=3))
    across /= np.linalg.norm(across)
    angle = math.radians(random.uniform(least, most))
    return np.asarray(math.cos(angle) * step + math.sin(angle) * across)


def loop(random: Random, wave: float) -> Structure:
    """A closed rectangle of half a wave to one and a half round, fed in one side; from square to narrow."""
    around = wave * random.uniform(0.5, 1.5)
    tall = around * random.uniform(0.06, 0.25)
    wide = 0.5 * around - tall
    x, z = 0.5 * wide, 0.5 * tall
    points = ((-x, 0.0, -z), (x, 0.0, -z), (x, 0.0, z), (-x, 0.0, z), (-x, 0.0, -z))
    feed = RodFeed("loop", 0.5 * wide, _log(random, 2e-3, 0.05 * wave))
    return Structure("loop", (Rod("loop", points, min(_thin(random, wave), 0.06 * tall), 1, _metal(random)),), (), feed)


def crossed_arms(random: Random, wave: float) -> Structure:
    """Arms fed in quadrature (mode 1), straight or drooping, perhaps over four parasitic arms."""
    length = 0.25 * wave * random.uniform(0.8, 1.1)
    droop = math.radians(random.uniform(0, 40)) if random.random() < 0.2 else 0.0
    tip = (length * math.cos(droop), 0.0, -length * math.sin(droop))
    radius = _thin(random, wave)
    rods = [Rod("arm", ((0.0, 0.0, 0.0), tip), radius, 4, _metal(random))]
    if random.random() < 0.5:
        depth, reach = -wave * random.uniform(0.3, 0.5), 0.27 * wave
        rods.append(Rod("under", ((0.0, 0.0, depth), (reach, 0.0, depth)), radius, 4, _metal(random)))
    feed = RodFeed("arm", 0.0, _log(random, max(3e-3, 4 * radius), max(0.02 * wave, 5 * radius)))
    return Structure("crossed arms", tuple(rods), (), feed, mode=1)


FREE_FORMS: dict[str, Callable[[Random, float], Structure]] = {
    "free: parasitic rods": parasitic_rods,
    "free: bent rods": bent_rods,
    "free: loop": loop,
    "free: crossed arms": crossed_arms,
}


def labels() -> tuple[str, ...]:
    """Every plan of every family as ``family: plan``, and the free forms."""
    found: list[str] = []
    random = np.random.default_rng(0)
    for kind in families():
        found += [f"{kind.key}: {plan.key}" for plan in _plans(kind, random, Span(140e6, 150e6))]
        if "horizontal" in kind.polarisations:
            level = _plans(kind, random, Span(140e6, 150e6), polarisation="horizontal")
            found += [f"{kind.key}: {plan.key} level" for plan in level]
    return tuple([*found, *FREE_FORMS])


def draw(label: str, seed: int) -> tuple[Draw, int]:
    """A random antenna of a class and how often it was drawn again because it could not be built."""
    random = np.random.default_rng([SEED, seed])
    for again in range(200):
        try:
            if label in FREE_FORMS:
                span = _span(random, False)
                structure = FREE_FORMS[label](random, span.wavelength())
            else:
                structure, span = family_draw(*label.split(": "), random)
            check_overlap(build_geometry(structure))
        except AerialwrightError:
            continue
        centre = _log(random, span.low, span.high)
        return Draw(label, structure, np.linspace(0.97 * centre, 1.03 * centre, 9), span), again
    raise RuntimeError(f"no {label} can be built")


def impedance(structure: Structure, frequency: np.ndarray, mesh: MeshSettings, *, top: float) -> tuple[np.ndarray, int]:
    """Impedance [ohm] solved at each frequency, without any fit, and the number of unknowns."""
    system = prepare(structure, top_frequency=top, settings=mesh)
    z = system.port_factor / np.array([system.solve(float(f)).admittance for f in frequency])
    return z, system.mesh.unknowns


def compare(one: Draw, *, finest: bool = False) -> dict[str, object]:
    """The program's answer at three frequencies against the finer mesh: differences and printed errors, all in percent."""
    started = time.perf_counter()
    sweep = solve(one.structure, one.frequency).sweep
    spent = time.perf_counter() - started
    at, top = [0, 4, 8], float(one.frequency[-1])
    better, unknowns = impedance(one.structure, one.frequency[at], FINER, top=top)
    size = np.abs(better)
    record: dict[str, object] = {
        "unknowns": [sweep.check.unknowns, unknowns],
        "seconds": round(spent, 3),
        "difference": _percent(np.abs(better - sweep.impedance[at]) / size),
        "printed": _percent(sweep.impedance_error[at] / size),
    }
    if finest:
        best, _ = impedance(one.structure, one.frequency[at], FINEST, top=top)
        record["difference_finest"] = _percent(np.abs(best - sweep.impedance[at]) / size)
        record["finer_to_finest"] = _percent(np.abs(best - better) / size)
    return record


def _percent(values: np.ndarray) -> list[float]:
    return [float(f"{100 * value:.3g}") for value in values]


def wide_sweep(label: str, seed: int) -> dict[str, object]:
    """201 points at 0.1 %: solves of the rational fit, its stated error and the true one, in percent."""
    one, _ = draw(label, seed)
    wide = label.split(": ")[0] in WIDE
    low = one.span.low * (0.9 if wide else 0.75)
    frequency = np.geomspace(low, low * (4.0 if wide else 2.0), 201)
    system = prepare(one.structure, top_frequency=float(frequency[-1]), settings=EngineSettings().mesh)
    raw = run_sweep(system, frequency, tolerance=1e-3)
    true = np.array([system.solve(float(f)).admittance for f in frequency])
    error = np.max(np.abs(raw.admittance - true) / np.abs(true))
    return {
        "solves": len(raw.solved),
        "stated": float(f"{100 * raw.fit_error:.3g}"),
        "true": float(f"{100 * error:.3g}"),
    }


def summary(records: list[dict[str, object]], key: str = "difference") -> dict[str, object]:
    """Counts and the distribution of the worst difference of each antenna, in percent."""
    pairs = [(np.array(r[key]), np.array(r["printed"])) for r in records if key in r]
    worst = np.array([float(d.max()) for d, _ in pairs])
    held = [bool(np.all(d <= p)) for d, p in pairs]
    return {
        "designs": len(pairs),
        "held": sum(held),
        "fraction": round(sum(held) / len(held), 4),
        "median": float(f"{np.median(worst):.3g}"),
        "90 %": float(f"{np.quantile(worst, 0.9):.3g}"),
        "worst": float(f"{worst.max():.3g}"),
        "printed median": float(f"{np.median([p.max() for _, p in pairs]):.3g}"),
        "worst ratio": float(f"{max(float((d / p).max()) for d, p in pairs):.3g}"),
    }


def main(count: int) -> None:
    """Run both parts and write the table."""
    started = time.perf_counter()
    names = labels()
    designs: list[dict[str, object]] = []
    refused: list[str] = []
    redrawn = 0
    for seed in range(count):
        label = names[seed % len(names)]
        one, again = draw(label, seed)
        redrawn += again
        try:
            designs.append({"class": label, "seed": seed, **compare(one, finest=(seed // len(names)) % 4 == 0)})
        except StructureError as error:
            refused.append(f"{label} {seed}: {error}")
    print(f"{len(designs)} designs, {time.perf_counter() - started:.0f} s", file=sys.stderr)
    sweeps = []
    for number, label in enumerate(names * SWEEPS):
        try:
            sweeps.append({"class": label, "seed": 10_000 + number, **wide_sweep(label, 10_000 + number)})
        except StructureError as error:
            refused.append(f"sweep {label} {10_000 + number}: {error}")
    stored = {
        "what": "differences and printed errors in percent of the impedance at three frequencies of each random antenna",
        "made with": {name: version(name) for name in ("numpy", "scipy", "numba")}
        | {"python": platform.python_version()},
        "made on": datetime.date.today().isoformat(),
        "seed": SEED,
        "settings": {"finer": repr(FINER), "finest": repr(FINEST), "default": repr(EngineSettings())},
        "drawn again because it could not be built": redrawn,
        "refused by the solver": refused,
        "all": summary(designs),
        "all, finest mesh": summary(designs, "difference_finest"),
        "classes": {name: summary([d for d in designs if d["class"] == name]) for name in names},
        "sweep": {
            "most solves": max(int(s["solves"]) for s in sweeps),
            "mean solves": round(float(np.mean([s["solves"] for s in sweeps])), 2),
            "at most 12 solves": sum(int(s["solves"]) <= 12 for s in sweeps),
            "worst true error": max(float(s["true"]) for s in sweeps),
            "within tolerance": sum(float(s["true"]) <= 0.1 for s in sweeps),
            "sweeps": len(sweeps),
        },
        "seconds": round(time.perf_counter() - started),
        "designs": designs,
        "sweeps": sweeps,
    }
    write_text_atomic(STORED, compact(stored, "classes", "designs", "sweeps"))
    print(
        json.dumps({k: stored[k] for k in ("all", "all, finest mesh", "sweep", "seconds")}, indent=1), file=sys.stderr
    )


def compact(stored: dict[str, object], *long: str) -> str:
    """JSON with one line for each record of the ``long`` lists and tables."""
    short = {key: value for key, value in stored.items() if key not in long}
    text = json.dumps(short, indent=1)[:-2]
    for key in long:
        value = stored[key]
        if isinstance(value, dict):
            rows = [f"  {json.dumps(k)}: {json.dumps(v)}" for k, v in value.items()]
            text += f',\n "{key}": {{\n' + ",\n".join(rows) + "\n }"
        else:
            assert isinstance(value, list)
            text += f',\n "{key}": [\n' + ",\n".join("  " + json.dumps(row) for row in value) + "\n ]"
    return text + "\n}\n"


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else DESIGNS)
