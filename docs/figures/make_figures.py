# ruff: noqa: E402  (the number of BLAS threads is set before numpy is loaded)
"""Draws the figures of the documentation with the program's own drawing functions.

    python docs/figures/make_figures.py [demo] [convergence] [current] [discone] [ground] [cost]

Without a name: all of them. Each is an SVG beside this file; the numbers are computed while this runs (about two minutes).
"""

from __future__ import annotations

import os
import re
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
sys.path.insert(0, str(HERE))

import numpy as np

from aerialwright.project.structures import read_structure
from aerialwright.solution import figures
from aerialwright.solution.figures.axes import Plot, Scale, frequency_scale, frequency_ticks, legend, megahertz
from aerialwright.solution.figures.frequency import series_sample
from aerialwright.solution.figures.palette import COLOURS, colour, series_style
from aerialwright.solution.solve import solve
from aerialwright.solution.svg import Drawing, plain_colours

DESIGNS = {path.stem: path for path in sorted(ROOT.glob("examples/*/designs/*.toml"))}


def keep(name: str, markup: str) -> None:
    """Write one figure for viewers that know no style sheets, on the sheet's colour so that it is readable on a dark page."""
    text = plain_colours(markup)
    head = re.match(r"<svg[^>]*>", text)
    assert head is not None
    paper = f'<rect width="100%" height="100%" fill="{COLOURS["sheet"][0]}"/>'
    (HERE / f"{name}.svg").write_text(head[0] + paper + text[head.end() :], "utf-8")
    print(f"docs/figures/{name}.svg")


def stacked(parts: list[list[str]], title: str, *, gap: float = 14.0) -> str:
    """Pictures in rows as one: each keeps its own coordinates."""

    def size(markup: str) -> tuple[float, float]:
        box = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', markup)
        assert box is not None
        return float(box[1]), float(box[2])

    width = max(sum(size(m)[0] for m in row) + gap * (len(row) - 1) for row in parts)
    body, top = [], 0.0
    for row in parts:
        left = 0.5 * (width - sum(size(m)[0] for m in row) - gap * (len(row) - 1))
        for markup in row:
            w, h = size(markup)
            head = f'<svg x="{left:g}" y="{top:g}" width="{w:g}" height="{h:g}" viewBox="0 0 {w:g} {h:g}">'
            body.append(head + re.sub(r"^<svg[^>]*>", "", markup, count=1))
            left += w + gap
        top += max(size(m)[1] for m in row) + gap
    font = re.search(r'font-family="[^"]*"', parts[0][0])
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {top:g}" width="{width:g}" height="{top:g}" '
            f'role="img" {font[0] if font else ""}><title>{title}</title>{"".join(body)}</svg>\n')  # fmt: skip


def demo() -> None:
    """What `make demo` answers: the antennas at one scale, SWR of the first, gain of the first three."""
    from aerialwright.app.workflow import answer_need

    with tempfile.TemporaryDirectory() as out:
        comparison = answer_need(ROOT / "examples" / "tarn-edge", out=Path(out)).comparison
    single = [p for p in comparison.proposals if len(p.members) == 1]
    shown = [p.members[0].evaluation for p in single[:4]]
    signs = [str(p.rank) for p in single[:4]]
    need = comparison.need
    row = figures.outline_row(shown, signs=signs, width=900.0)
    swr = figures.swr_chart(shown[0], need)
    gain = figures.realised_gain_chart(shown[:3], need, labels=[f"{s} {e.title}" for s, e in zip(signs, shown[:3])])
    keep(
        "demo-answer",
        stacked(
            [[row], [swr, gain]], "The answer to the first example: antennas compared, SWR and gain at the receiver"
        ),
    )


def logarithmic(low: float, high: float) -> list[tuple[float, str]]:
    """Decade and half-decade ticks."""
    return [
        (v, f"{v:g}") for d in range(-4, 5) for v in (10.0**d, 3 * 10.0**d) if low <= v * 1.0001 and v <= high * 1.0001
    ]


def goal(drawing: Drawing) -> Callable[[float, float], None]:
    """Legend sample of the line of 0.5 %."""
    return lambda x, y: drawing.line(
        (x - 12, y), (x + 12, y), stroke=colour("limit"), stroke_width=1.2, stroke_dasharray="9 3 2 3"
    )


def convergence() -> None:
    """Error against unknowns for several bases; the sheet discone against finite elements, the others against order 5."""
    import measure

    for name, slug in (("discone of sheet", "sheet"), ("ground plane, 4 radials", "ground-plane")):
        found = measure.convergence(name)
        width, left, top, right, bottom = 440.0, 52.0, 12.0, 420.0, 232.0
        against = "finite elements" if slug == "sheet" else "a finer mesh"
        drawing = Drawing(width=width, title=f"Error of impedance against {against}: {name}",
                          description="; ".join(f"{k}: {v[-1][0]} unknowns, {100 * v[-1][1]:.2g} %" for k, v in found.items()),
                          identity=f"convergence {slug}")  # fmt: skip
        x, y = Scale(9.0, 1000.0, left, right, logarithmic=True), Scale(0.008, 50.0, bottom, top, logarithmic=True)
        plot = Plot(drawing, left, top, right, bottom, x, y)
        plot.x_axis(logarithmic(9.0, 1000.0), "unknowns")
        plot.y_axis(logarithmic(0.008, 50.0), f"error against {against}, %")
        drawing.line(
            (left, y(0.5)), (right, y(0.5)), stroke=colour("limit"), stroke_width=1.2, stroke_dasharray="9 3 2 3"
        )
        with drawing.group(clip_path=plot.clip(), fill="none"):
            for k, rows in enumerate(found.values()):
                style = series_style(k)
                points = plot.curve(np.array([n for n, _ in rows]), np.array([100 * e for _, e in rows]))
                drawing.polyline(points, stroke=style.colour, stroke_width=1.8, stroke_dasharray=style.dash_or_none)
                for place in points:
                    drawing.symbol(style.symbol, place, 6.5, fill=style.colour, stroke=colour("sheet"))
        plot.frame()
        items = [(words, series_sample(drawing, k)) for k, words in enumerate(found)]
        items.append(("0.5 %", goal(drawing)))
        drawing.height = 4.0 + legend(drawing, items, left=left, right=width - 8.0, top=bottom + 32.0)
        keep(f"engine-convergence-{slug}", drawing.markup())


def current() -> None:
    """Total current along the rod and along all radials of a ground plane antenna, at the middle of its band."""
    frequency = 158e6
    structure = read_structure(DESIGNS["drooping-ground-plane"])
    solution = solve(structure, np.array([156e6, frequency, 160e6]))
    system = solution.raw.system
    solved = next(s for s in solution.raw.solved if s.frequency == frequency)
    values = abs(system.value @ solved.coefficients)
    values = values / abs(solved.admittance)
    lines = [system.geometry.lines[i] for i in system.mesh.line[system.element]]
    parts = {}
    for k, (name, words) in enumerate(
        (("rod", "rod, from the plate up"), ("radial", "all four radials together, from the plate's rim out"))
    ):
        mine = np.array([line.name == name for line in lines])
        point = system.point[mine]
        if name == "rod":
            # Not the flat face at its tip.
            side = point[:, 0] > 0.999 * point[:, 0].max()
            mine[np.flatnonzero(mine)[~side]] = False
            distance = system.point[mine][:, 2]
        else:
            distance = np.linalg.norm(point - np.array(structure.rods[1].points[0]), axis=1)
        order = np.argsort(distance)
        parts[words] = (1e3 * distance[order], values[mine][order], k)
    width, left, top, right, bottom = 440.0, 48.0, 12.0, 428.0, 212.0
    highest = max(float(v.max()) for _, v, _ in parts.values())
    drawing = Drawing(width=width, title="Current along a ground plane antenna",
                      description=f"Current at {frequency / 1e6:g} MHz over that of the feed, along the rod and along all four radials.",
                      identity="current")  # fmt: skip
    reach = 1.05 * max(float(d.max()) for d, _, _ in parts.values())
    x, y = Scale(0.0, reach, left, right), Scale(0.0, 1.08 * highest, bottom, top)
    plot = Plot(drawing, left, top, right, bottom, x, y)
    plot.x_axis([(v, f"{v:g}") for v in range(0, int(reach), 100)], "distance along the metal, mm")
    plot.y_axis([(v, f"{v:g}") for v in (0, 0.25, 0.5, 0.75, 1.0)], "current over that of the feed")
    for distance, value, k in parts.values():
        style = series_style(k)
        points = plot.curve(distance, value)
        drawing.polyline(points, stroke=style.colour, stroke_width=1.9, stroke_dasharray=style.dash_or_none)
        for place in points:
            drawing.symbol(style.symbol, place, 5.0, fill=style.colour, stroke=colour("sheet"))
    plot.frame()
    items = [(words, series_sample(drawing, k)) for words, (_, _, k) in parts.items()]
    drawing.height = 4.0 + legend(drawing, items, left=left, right=width - 8.0, top=bottom + 32.0)
    keep("engine-current", drawing.markup())


def discone() -> None:
    """SWR of discones of sheet and of wires, the same otherwise."""
    import measure

    from aerialwright.engine.sweep import EngineSettings

    width, left, top, right, bottom = 440.0, 42.0, 12.0, 428.0, 222.0
    f = np.geomspace(80e6, 400e6, 161)
    drawing = Drawing(width=width, title="SWR of discones of sheet and of wires",
                      description="Slant 270/f feet for 100 MHz, full angle 60 degrees.", identity="discones")  # fmt: skip
    x = frequency_scale(80e6, 400e6, left, right)

    def y(swr: float) -> float:
        return bottom - (bottom - top) * (min(swr, 20.0) - 1) / (min(swr, 20.0) + 1) / (4.0 / 6.0)

    plot = Plot(drawing, left, top, right, bottom, x, y)
    plot.x_axis([(v, megahertz(v)) for v in frequency_ticks(x)], "frequency, MHz")
    plot.y_axis([(v, f"{v:g}") for v in (1.0, 1.2, 1.5, 2.0, 3.0, 5.0)], "SWR at the antenna, 50 ohm")
    items = []
    with drawing.group(clip_path=plot.clip(), fill="none"):
        for k, wires in enumerate((None, 16, 8, 4)):
            z = solve(measure.discone(100e6, wires), f, settings=EngineSettings(), check=False).sweep.impedance
            size = abs((z - 50) / (z + 50))
            style = series_style(k)
            drawing.polyline(
                plot.curve(f, (1 + size) / (1 - size)),
                stroke=style.colour,
                stroke_width=1.9,
                stroke_dasharray=style.dash_or_none,
            )
            items.append(("cone of sheet" if wires is None else f"cone of {wires} wires", series_sample(drawing, k)))
    plot.frame()
    drawing.height = 4.0 + legend(drawing, items, left=left, right=width - 8.0, top=bottom + 32.0)
    keep("engine-discones", drawing.markup())


def ground() -> None:
    """Resistance and reactance of a level half-wave dipole over its height, over perfect and two kinds of real ground."""
    from aerialwright.engine.sweep import EngineSettings, prepare
    from aerialwright.structure.ground import Ground
    from aerialwright.structure.model import Rod, RodFeed, Structure

    frequency, wave = 146e6, 299792458.0 / 146e6
    half, radius = 0.235 * wave, 0.003
    heights = np.concatenate([np.geomspace(0.02, 0.1, 12, endpoint=False), np.linspace(0.1, 1.25, 70)])
    kinds: list[tuple[str, str | Ground]] = [
        ("average ground", Ground.named("average ground")),
        ("sea water", Ground.named("sea water")),
        ("perfect ground", "perfect"),
    ]

    def impedance(height: float, over: str | Ground) -> complex:
        rod = Rod("dipole", ((-half, 0, height * wave), (half, 0, height * wave)), radius)
        structure = Structure("dipole", (rod,), (), RodFeed("dipole", half, 2 * radius), over)
        system = prepare(structure, top_frequency=frequency, settings=EngineSettings().mesh)
        return complex(1 / system.solve(frequency).admittance)

    found = {words: np.array([impedance(float(h), over) for h in heights]) for words, over in kinds}
    free = impedance(0.0, "none")
    parts = []
    for title, take, low, high, free_value in (
        ("resistance, ohm", np.real, 0.0, 120.0, free.real),
        ("reactance, ohm", np.imag, -40.0, 60.0, free.imag),
    ):
        width, left, top, right, bottom = 440.0, 48.0, 12.0, 428.0, 212.0
        drawing = Drawing(width=width, title=f"Level half-wave dipole over ground: {title} over height",
                          description="; ".join(f"{k}: {take(v[-1]):.1f} ohm at {heights[-1]:g} wavelengths" for k, v in found.items()),
                          identity=f"ground {title}")  # fmt: skip
        x, y = Scale(0.0, 1.25, left, right), Scale(low, high, bottom, top)
        plot = Plot(drawing, left, top, right, bottom, x, y)
        plot.x_axis([(v, f"{v:g}") for v in (0.0, 0.25, 0.5, 0.75, 1.0, 1.25)], "height, wavelengths")
        plot.y_axis([(v, f"{v:g}") for v in np.arange(low, high + 1, 20.0)], title)
        drawing.line(
            (left, y(free_value)),
            (right, y(free_value)),
            stroke=colour("limit"),
            stroke_width=1.2,
            stroke_dasharray="9 3 2 3",
        )
        with drawing.group(clip_path=plot.clip(), fill="none"):
            for k, values in enumerate(found.values()):
                style = series_style(k)
                points = plot.curve(heights, take(values))
                drawing.polyline(points, stroke=style.colour, stroke_width=1.9, stroke_dasharray=style.dash_or_none)
                for place in points[::8]:
                    drawing.symbol(style.symbol, place, 5.5, fill=style.colour, stroke=colour("sheet"))
        plot.frame()
        items = [(words, series_sample(drawing, k)) for k, words in enumerate(found)]
        items.append(("free space", goal(drawing)))
        drawing.height = 4.0 + legend(drawing, items, left=left, right=width - 8.0, top=bottom + 32.0)
        parts.append(drawing.markup())
    keep("engine-ground", stacked([parts], "Impedance of a level half-wave dipole over its height above ground"))


def cost() -> None:
    """Seconds on one core against unknowns for a field of rods without symmetry, beside LAPACK's L U of the same matrix."""
    sys.path.insert(0, str(ROOT / "benchmarks"))
    import bench_large

    rows = bench_large.growth()
    n = np.array([row["unknowns"] for row in rows])
    curves = {
        "matrix filled": "fill",
        "filled and solved": "fill and solve",
        "L U of the same matrix by LAPACK": "LAPACK",
        "prepared, once for all frequencies": "prepare",
    }
    slopes = {
        key: np.diff(np.log([row[key] for row in rows[-3:]])) / np.diff(np.log(n[-3:])) for key in curves.values()
    }
    for row in rows:
        print({key: float(f"{value:.3g}") for key, value in row.items()})
    print(
        "growth from",
        n[-3],
        "over",
        n[-2],
        "to",
        n[-1],
        {key: slope.round(2).tolist() for key, slope in slopes.items()},
    )
    width, left, top, right, bottom = 440.0, 58.0, 12.0, 428.0, 252.0
    drawing = Drawing(width=width, title="Time of one frequency over the number of unknowns, one core",
                      description="; ".join(f"{words}: {rows[-1][key]:.2g} s at {n[-1]:.0f}" for words, key in curves.items()),
                      identity="cost")  # fmt: skip
    x, y = Scale(90.0, 5000.0, left, right, logarithmic=True), Scale(7e-4, 8.0, bottom, top, logarithmic=True)
    plot = Plot(drawing, left, top, right, bottom, x, y)
    plot.x_axis([(v, f"{v:g}") for v in (100, 200, 500, 1000, 2000, 4000)], "unknowns")
    plot.y_axis([(v, f"{1e3 * v:g}") for v in (1e-3, 1e-2, 1e-1, 1.0)], "time, ms")
    with drawing.group(clip_path=plot.clip(), fill="none"):
        for k, key in enumerate(curves.values()):
            style = series_style(k)
            points = plot.curve(n, np.array([row[key] for row in rows]))
            drawing.polyline(points, stroke=style.colour, stroke_width=1.9, stroke_dasharray=style.dash_or_none)
            for place in points:
                drawing.symbol(style.symbol, place, 6.5, fill=style.colour, stroke=colour("sheet"))
    plot.frame()
    items = [(words, series_sample(drawing, k)) for k, words in enumerate(curves)]
    drawing.height = 4.0 + legend(drawing, items, left=left, right=width - 8.0, top=bottom + 32.0)
    keep("engine-cost", drawing.markup())


if __name__ == "__main__":
    every = {call.__name__: call for call in (demo, convergence, current, discone, ground, cost)}
    unknown = [name for name in sys.argv[1:] if name not in every]
    if unknown:
        sys.exit(__doc__)
    for name in sys.argv[1:] or every:
        every[name]()
