"""Writes what the program itself says into the documentation.

    python docs/generate.py [FILE ...]          # write; without a name everything
    python docs/generate.py --check [FILE ...]  # say where they are out of step; ends with 1 if they are

docs/families.md and docs/checks.md are made whole: reference values come out of the tests' own data (module constants,
parameters of the test functions, the stored finite-element table), ours are computed while this runs. In the other pages
each ``text`` block that follows a ``bash`` or ``python`` block is what that block prints; a ``toml`` block with a file name
is written to that file first. Nothing is typed by hand.
"""

from __future__ import annotations

import ast
import importlib
import math
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
DOCS = Path(__file__).resolve().parent
ROOT = DOCS.parent
PUBLISHED = ROOT / "tests" / "published"
NUMBER = re.compile(r"(?<![\w.])[-+]?\d+(?:\.\d+)?(?![\w.]*\w)")
INCHES = re.compile(r"(?:\d+ )?\d+(?:/\d+|\.\d+)? in\b")
BRACKET = re.compile(r"\([\d.]+(?: to [\d.]+)?\)")
Row = tuple[str, str, str, str, str]


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


# ---- families


def families_text() -> str:
    """docs/families.md."""
    from aerialwright.antennas.catalogue import families

    out = [
        "# Families of antennas",
        "",
        "Made by `python docs/generate.py` from the program's own records; a test keeps it in step. "
        "`aerialwright families FAMILY` prints the same.",
        "",
        "A family is one way of building an antenna. Its dimensions are what a builder cuts, bends, drills or counts; each has the "
        "datum that it is measured from, because a length without one is a guess. The keys are those of `[owned.dimensions]` in a "
        "[need](need.md). The program moves the dimensions marked *tuned* until the must-bands fit, and rounds them to the step that "
        "can be marked out; the others come from your stock and the family. A value outside the limits is refused.",
        "",
        table(
            ("family", "what it is", "polarisation"),
            [(f"[`{f.key}`](#{f.key})", f.title, ", ".join(f.polarisations)) for f in families()],
        ),
    ]  # fmt: skip
    unit = {"length": (1e3, "mm"), "angle": (1.0, "deg"), "count": (1.0, "")}
    for kind in families():
        rows = []
        for p in kind.parameters:
            factor, word = unit[p.kind]
            limits = f"{p.lowest * factor:g} to {p.highest * factor:g} {word}".strip()
            step = f"{p.step * factor:g} {word}".strip()
            rows.append((f"`{p.key}`", p.label, p.datum, "tuned" if p.tuned else "", step, limits))
        about = (type(kind).__doc__ or "").strip().splitlines()[0]
        out += [
            "",
            f"## {kind.key}",
            "",
            f"{kind.title[0].upper()}{kind.title[1:]}. {about}",
            "",
            f"* First guess: {first_line(kind.first_guess)}",
            f"* Offered: {first_line(kind.plans)}",
            f"* Modelled as: {first_line(kind.structure)}",
            f"* Limits while tuning: {first_line(kind.bounds)}",
            "",
            table(("key", "dimension", "datum", "", "step", "limits"), rows),
        ]
    return "\n".join(out) + "\n"


def first_line(method: Callable[..., Any]) -> str:
    """First line of a docstring."""
    return re.sub(r" ?\[@[\w-]+\]", "", (method.__doc__ or "").strip().splitlines()[0])


# ---- checks


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
            "computed elsewhere, not published",
            expected,
            found,
        )


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
        "## What the trade goes by",
        "",
        table(head, list(trade())),
        "",
        "## Everything that is checked against a source",
        "",
        table(("tests", "checks", "what they say of themselves"), modules()),
    ]) + "\n"  # fmt: skip


# ---- blocks that are run


@dataclass(frozen=True)
class Block:
    """A fenced block of a page: its info words, its text, and where its text stands in the page."""

    info: tuple[str, ...]
    text: str
    start: int
    end: int


FENCE = re.compile(r"^```([^\n]*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def blocks(page: str) -> list[Block]:
    """All fenced blocks."""
    return [Block(tuple(m[1].split()), m[2], m.start(2), m.end(2)) for m in FENCE.finditer(page)]


def outputs(page: str, folder: Path) -> Iterator[tuple[Block, str]]:
    """Run the blocks of a page one after the other in ``folder``; each ``text`` block with what was printed before it.

    Raises RuntimeError with the block and what it printed when one fails.
    """
    environment = {**os.environ, "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}", "COLUMNS": "100",
                   "OPENBLAS_NUM_THREADS": "1", "NO_COLOR": "1", "PYTHONPATH": str(ROOT / "src")}  # fmt: skip
    printed: str | None = None
    for block in blocks(page):
        kind = block.info[0] if block.info else ""
        if kind == "toml" and len(block.info) > 1:
            (folder / block.info[1]).write_text(block.text, "utf-8")
        if kind in ("bash", "python"):
            command = ["bash", "-euc", block.text] if kind == "bash" else [sys.executable, "-c", block.text]
            done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=False)
            expected = int(block.info[1].removeprefix("ends=")) if len(block.info) > 1 else 0
            if done.returncode != expected:
                raise RuntimeError(f"ended with {done.returncode}:\n{block.text}\n{done.stdout}\n{done.stderr}")
            printed = done.stdout + done.stderr
        elif kind == "text" and printed is not None:
            yield block, "\n".join(line.rstrip() for line in printed.splitlines()) + "\n"
            printed = None
        else:
            printed = None


def workplace(folder: Path) -> Path:
    """A copy of the examples as they are in the tree, without results."""
    shutil.copytree(ROOT / "examples", folder / "examples", ignore=shutil.ignore_patterns("out", ".lock"))
    return folder


def filled(name: str) -> str:
    """A page with the output of its blocks put in."""
    page = (ROOT / name).read_text("utf-8")
    if not any(block.info[:1] in (("bash",), ("python",)) for block in blocks(page)):
        return page
    with tempfile.TemporaryDirectory() as folder:
        found = list(outputs(page, workplace(Path(folder))))
    for block, text in reversed(found):
        page = page[: block.start] + text + page[block.end :]
    return page


# ---- keeping in step


def differences(old: str, new: str, *, slack: float = 1.5, relative: float = 0.0) -> list[str]:
    """Lines of ``old`` that are not those of ``new``; numbers may differ by ``slack`` units of their last printed digit
    or by the part ``relative``. Spaces, inch fractions and spans in brackets do not count."""
    before, after = old.splitlines(), new.splitlines()
    found = [] if len(before) == len(after) else [f"{len(before)} lines, now {len(after)}"]
    for number, (was, now) in enumerate(zip(before, after, strict=False), 1):
        a_text, b_text = (BRACKET.sub("(#)", INCHES.sub("# in", " ".join(line.split()))) for line in (was, now))
        if NUMBER.sub("#", a_text) != NUMBER.sub("#", b_text):
            found.append(f"{number}: {was!r}, now {now!r}")
            continue
        for a, b in zip(NUMBER.findall(a_text), NUMBER.findall(b_text), strict=True):
            digits = len(a.partition(".")[2])
            if abs(float(a) - float(b)) > max(slack * 10.0**-digits, relative * abs(float(b))):
                found.append(f"{number}: {a}, now {b}: {was!r}")
    return found


MADE: dict[str, Callable[[], str]] = {"docs/families.md": families_text, "docs/checks.md": checks_text}
PAGES = [
    "README.md",
    *sorted(f"docs/{path.relative_to(DOCS)}" for path in DOCS.rglob("*.md") if "decisions" not in path.parts),
]


def made(name: str) -> str:
    """What a page should be now."""
    return MADE[name]() if name in MADE else filled(name)


def main(arguments: list[str]) -> int:
    """Write, or compare."""
    names = [name for name in arguments if not name.startswith("-")] or [
        *MADE,
        *(page for page in PAGES if page not in MADE),
    ]
    status = 0
    for name in names:
        text = made(name)
        if "--check" in arguments:
            rough = {} if name in MADE else {"slack": 10.0, "relative": 0.05}
            wrong = differences((ROOT / name).read_text("utf-8"), text, **rough)
            status |= bool(wrong)
            print(*(f"{name}:{line}" for line in wrong), sep="\n", end="\n" if wrong else "")
        else:
            (ROOT / name).write_text(text, "utf-8")
    return status


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
