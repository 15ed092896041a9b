"""The command line. Heavy rooms are opened inside the commands, so that help is there at once."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from aerialwright import __version__
from aerialwright.app.exits import Exit
from aerialwright.base.errors import AerialwrightError

if TYPE_CHECKING:
    from aerialwright.app.bench_log import Step

# Before numpy is loaded anywhere: the systems here are small, and each worker has a core of its own.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 100}


class Program(click.Group):
    """Turns every fault a person can mend into one line on standard error."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; faults end with :class:`Exit` codes, never with a traceback."""
        try:
            return super().invoke(ctx)
        except AerialwrightError as fault:
            click.echo(f"aerialwright: {fault.one_line()}", err=True)
            ctx.exit(int(Exit.BAD_INPUT))
        except KeyboardInterrupt:
            click.echo("aerialwright: stopped", err=True)
            ctx.exit(int(Exit.STOPPED))
        except BrokenPipeError:
            # The reader of a pipe went away: nothing is wrong.
            sys.stderr.close()
            ctx.exit(int(Exit.DONE))


@click.group(cls=Program, context_settings=CONTEXT)
@click.version_option(__version__, prog_name="aerialwright")
def main() -> None:
    """Work out which VHF/UHF antenna to build, its true dimensions, and why.

    \b
    A first walk:
      aerialwright new mine              make a project folder with a need to fill in
      (edit mine/need.toml)              say what you want to hear, your coax, your stock
      aerialwright answer mine           compare antennas; writes mine/out/report.html
      aerialwright sheet mine            print the recommended one: mine/out/sheet/*.pdf
      aerialwright bench mine SWEEP      hold your measured sweep against it

    Quantities are written as people write them: '156.8 MHz', '17 1/4 in', '3.2 mm', '12 AWG'.
    """


@contextmanager
def _progress(title: str, quiet: bool) -> Iterator[Callable[[float, str], None]]:
    """A bar on standard error where a person looks at it; silence in pipes."""
    if quiet or not sys.stderr.isatty():
        yield lambda fraction, text: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    bar = Progress(
        TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn(), TextColumn("{task.fields[now]}"),
        console=Console(stderr=True), transient=True,
    )  # fmt: skip
    with bar:
        task = bar.add_task(title, total=1.0, now="first run compiles, about fifteen seconds more")
        yield lambda fraction, text: bar.update(task, completed=fraction, now=text)


@main.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--like", "like", type=click.Path(path_type=Path), help="Copy the need of another project folder.")
def new(folder: Path, like: Path | None) -> None:
    """Make a project FOLDER with a need.toml to fill in."""
    from aerialwright.project.folder import create_project

    create_project(folder, from_example=like)
    click.echo(f"{folder}: made. Edit {folder / 'need.toml'}, then run: aerialwright answer {folder}")


@main.command()
@click.argument("project", type=click.Path(path_type=Path))
def check(project: Path) -> None:
    """Read PROJECT's need and its designs and say what is wrong, without solving anything."""
    from aerialwright.base.printing import counted
    from aerialwright.design.choose import owned_values
    from aerialwright.engine.geometry import build_geometry
    from aerialwright.engine.overlap import check_overlap
    from aerialwright.need.check import stock_notes
    from aerialwright.project.folder import DESIGNS
    from aerialwright.project.needs import need_path, read_need
    from aerialwright.project.structures import read_structure

    need = read_need(project)
    for owned in need.owned:
        owned_values(owned)
    click.echo(f"need: {need.title}: {counted(len(need.bands), 'band')}, {counted(len(need.stock), 'kind')} of stock")
    for caution in stock_notes(need):
        click.echo(f"caution: {caution.text}; {caution.remedy}")
    for path in sorted((need_path(project).parent / DESIGNS).glob("*.toml")):
        structure = read_structure(path)
        check_overlap(build_geometry(structure))
        metal = f"{counted(len(structure.rods), 'rod')}, {counted(len(structure.surfaces), 'surface')}"
        click.echo(f"{path.name}: {metal}, feed found")


@main.command()
@click.argument("project", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Folder for the results [PROJECT/out].")
@click.option(
    "--workers",
    type=click.IntRange(1, 64),
    help="Processes to spread the antennas over [one for each core, at most 4].",
)
@click.option("--json", "as_json", is_flag=True, help="Print the whole answer as JSON instead of text.")
@click.option("--quiet", is_flag=True, help="No progress bar.")
def answer(project: Path, out: Path | None, workers: int | None, as_json: bool, quiet: bool) -> None:
    """Answer the need of PROJECT: size, solve and compare antennas, and say which to build and why.

    Writes report.html (send it as it is), answer.txt, comparison.json, the computed sweeps and designs, and the build sheet of
    what it recommends. Ends with 1 when nothing keeps every limit of the need.
    """
    from aerialwright.app.sheets import sheets_beside
    from aerialwright.app.workflow import answer_need, comparison_data

    with _progress("comparing antennas", quiet or as_json) as report:
        result = answer_need(project, out=out, report=report, count=workers)
        try:
            printed, fault = sheets_beside(project, result), ""
        except AerialwrightError as error:
            # The answer stands without it; what is wrong belongs to the sheet alone.
            printed, fault = (), error.one_line()
    if as_json:
        click.echo(json.dumps(comparison_data(result.comparison, result.decoding), allow_nan=False))
    else:
        click.echo(result.text.rstrip())
        click.echo(f"\nReport: {result.report}   ({result.comparison.seconds:.1f} s)")
        for path in printed:
            if path.suffix == ".pdf":
                click.echo(f"Build sheet: {path}")
    if fault:
        click.echo(f"aerialwright: no build sheet: {fault}", err=True)
    if not result.comparison.proposals[0].serves:
        raise SystemExit(int(Exit.NOTHING_SERVES))


@main.command()
@click.argument("project", type=click.Path(path_type=Path))
@click.option(
    "--antenna", metavar="KEY", help="An antenna of the answer by key or rank, instead of the recommended one."
)
@click.option("--paper", default="A4", show_default=True, help="A4 or Letter.")
@click.option("--out", type=click.Path(path_type=Path), help="Folder for the files [PROJECT/out/sheet].")
@click.option(
    "--workers", type=click.IntRange(1, 64), help="Processes to compare antennas with [one for each core, at most 4]."
)
@click.option("--json", "as_json", is_flag=True, help="Print the files and the cut list as JSON.")
@click.option("--quiet", is_flag=True, help="No progress bar.")
def sheet(
    project: Path, antenna: str | None, paper: str, out: Path | None, workers: int | None, as_json: bool, quiet: bool
) -> None:
    """Print the build sheet of PROJECT's recommended antenna: PDF with full-size patterns, for the workshop.

    Answers the need first. Of a pair each antenna gets its own sheet. Patterns are written as SVG and DXF too, the cut list as
    CSV. Ends with 1 when the antenna does not keep every limit of the need.
    """
    from aerialwright.app.sheets import make_sheets, sheet_data

    with _progress("making the build sheet", quiet or as_json) as report:
        made = make_sheets(project, antenna=antenna, paper=paper, out=out, report=report, count=workers)
    if as_json:
        click.echo(json.dumps(sheet_data(made), allow_nan=False))
    else:
        for one in made.sheets:
            click.echo(f"{one.title}: {', '.join(one.band_labels)} (design {one.design_id})")
        for path in made.files:
            click.echo(f"  {path}")
    if not made.serves:
        raise SystemExit(int(Exit.NOTHING_SERVES))


@main.command()
@click.argument("structure", type=click.Path(path_type=Path))
@click.option("--from", "low", required=True, help="Lowest frequency, '140 MHz'.")
@click.option("--to", "high", required=True, help="Highest frequency, '150 MHz'.")
@click.option("--points", type=click.IntRange(2, 5001), default=101, show_default=True, help="Points of the sweep.")
@click.option("--reference", default="50 ohm", show_default=True, help="Impedance that SWR refers to.")
@click.option("--match", help="Print the L-networks that match to the reference at this frequency.")
@click.option("--csv", "csv_path", type=click.Path(path_type=Path), help="Write the sweep as CSV.")
@click.option("--touchstone", "s1p_path", type=click.Path(path_type=Path), help="Write the sweep as Touchstone.")
@click.option("--json", "as_json", is_flag=True, help="Print the sweep as JSON.")
def solve(
    structure: Path,
    low: str,
    high: str,
    points: int,
    reference: str,
    match: str | None,
    csv_path: Path | None,
    s1p_path: Path | None,
    as_json: bool,
) -> None:
    """Solve a free-form STRUCTURE file: rods, surfaces of revolution, a feed, parts between antenna and line."""
    import numpy as np

    from aerialwright.app.solving import matched, matched_text, solve_file, solved_data, solved_text
    from aerialwright.base.atomic import write_text_atomic
    from aerialwright.base.errors import QuantityError
    from aerialwright.base.units import parse_frequency, parse_impedance
    from aerialwright.solution.export import sweep_csv, touchstone

    start, stop = parse_frequency(low, where="--from"), parse_frequency(high, where="--to")
    if stop <= start:
        raise QuantityError("must lie above --from", where="--to", mend="put the lower frequency in --from")
    z0 = parse_impedance(reference, where="--reference")
    at = None if match is None else parse_frequency(match, where="--match")
    solved = solve_file(structure, np.linspace(start, stop, points), reference=z0)
    sweep = solved.solution.sweep
    if csv_path is not None:
        write_text_atomic(csv_path, sweep_csv(sweep.frequency, sweep.impedance, sweep.impedance_error))
    if s1p_path is not None:
        text = touchstone(
            sweep.frequency, sweep.impedance, reference=z0, comment=f"{structure.name}; computed, at the feed aperture"
        )
        write_text_atomic(s1p_path, text)
    found = None if at is None else matched(solved, at)
    if as_json:
        click.echo(json.dumps(solved_data(solved, found), allow_nan=False))
        return
    click.echo(solved_text(solved))
    if found is not None:
        click.echo(matched_text(found, z0))


@main.command()
@click.argument("project", type=click.Path(path_type=Path))
@click.option("--days", default=10, show_default=True, type=click.IntRange(1, 60), help="Days to look at.")
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def passes(project: Path, days: int, as_json: bool) -> None:
    """List when the satellite of PROJECT's need passes over its sites, how high, and how far its frequency shifts."""
    from aerialwright.app.satellite import passes_data, passes_of, passes_text

    found = passes_of(project, days=days)
    click.echo(json.dumps(passes_data(found), allow_nan=False) if as_json else passes_text(found).rstrip())


@main.command()
@click.argument("family", required=False)
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def families(family: str | None, as_json: bool) -> None:
    """List the antenna families, or the build dimensions of one FAMILY with their datums."""
    from aerialwright.antennas.catalogue import families as every
    from aerialwright.antennas.catalogue import family as find

    chosen = (find(family),) if family else every()
    if as_json:
        click.echo(json.dumps([
            {"key": f.key, "title": f.title, "polarisations": list(f.polarisations),
             "dimensions": [{"key": p.key, "label": p.label, "kind": p.kind, "datum": p.datum} for p in f.parameters]}
            for f in chosen
        ]))  # fmt: skip
        return
    for f in chosen:
        click.echo(f"{f.key:20} {f.title}")
        if family:
            for p in f.parameters:
                click.echo(f"  {p.key:18} {p.label}: {p.datum}{' (tuned by the engine)' if p.tuned else ''}")


@main.command()
@click.argument("family")
@click.argument("band")
@click.option("--metal", default="brass", show_default=True, help="Metal of rods, tubes and sheet.")
@click.option(
    "--diameter",
    default="3.2 mm",
    show_default=True,
    help="Measured rod or tube diameter: '3.2 mm', '1/8 in', '12 AWG'.",
)
@click.option("--coax", default="50 ohm", show_default=True, help="Impedance to match.")
@click.option("--socket", default="N", show_default=True, help="Socket at the foot: N, UHF, BNC, SMA, F.")
@click.option(
    "--keep",
    multiple=True,
    metavar="DIMENSION=VALUE",
    help="Hold a dimension: --keep radial_droop='30 deg' --keep rim_ring=1.",
)
@click.option("--sheet", "sheet_path", type=click.Path(path_type=Path), help="Write its build sheet to this PDF file.")
@click.option("--paper", default="A4", show_default=True, help="Paper of the build sheet: A4 or Letter.")
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def size(
    family: str,
    band: str,
    metal: str,
    diameter: str,
    coax: str,
    socket: str,
    keep: tuple[str, ...],
    sheet_path: Path | None,
    paper: str,
    as_json: bool,
) -> None:
    """Size one antenna FAMILY for a BAND such as '144-146 MHz' and print its cut list.

    \b
    aerialwright size ground-plane '144-146 MHz' --diameter '3.2 mm'
    aerialwright size discone '118-400 MHz' --metal copper --diameter '12 AWG' --keep cone_wires=8
    """
    from aerialwright.app.sizing import sized
    from aerialwright.app.workflow import evaluation_data
    from aerialwright.report.answer import render_sizes_text

    if sheet_path is not None:
        from aerialwright.sheet.tiles import paper as paper_named

        paper_named(paper)
    need, found = sized(family, band=band, metal=metal, diameter=diameter, coax=coax, socket=socket, keep=keep)
    if sheet_path is not None:
        from aerialwright.app.sheets import write_one

        write_one(need, found, sheet_path, paper=paper)
    click.echo(json.dumps(evaluation_data(found), allow_nan=False) if as_json else render_sizes_text(found).rstrip())


@main.command()
@click.argument("project", type=click.Path(path_type=Path))
@click.argument("sweep", required=False)
@click.option(
    "--plane", help="Where the instrument was: antenna, line, 'line RG-58 10 m', estimate, 'open=SWEEP short=SWEEP'."
)
@click.option(
    "--antenna", default="", help="Design it belongs to [the one that was built, or what the answer recommends]."
)
@click.option("--name", default="", help="What to call it in the project [its file name].")
@click.option(
    "--attached",
    type=click.Choice(["antenna", "open", "short", "load"]),
    default="antenna",
    show_default=True,
    help="What hung at the far end.",
)
@click.option("--note", default="", help="Anything worth knowing of it.")
@click.option("--date", type=click.DateTime(["%Y-%m-%d"]), help="Day of the measurement [today].")
@click.option("--port", type=click.IntRange(1, 2), default=1, show_default=True, help="Port of a two-port file.")
@click.option(
    "--column",
    "columns",
    multiple=True,
    metavar="ROLE=HEADING",
    help="Column of a table: --column swr='VSWR' --column frequency=1 --column frequency_unit=MHz.",
)
@click.option("--reference", help="Impedance it shall refer to [what the file states].")
@click.option("--cut", metavar="LENGTH", help="Note what you cut off each piece after this sweep: '3 mm', '1/8 in'.")
@click.option("--added", metavar="LENGTH", help="Note what you put on each piece after this sweep.")
@click.option(
    "--ruler",
    metavar="LENGTH",
    help="It is finished: its main length by ruler. What it teaches is kept for the next antenna.",
)
@click.option("--out", type=click.Path(path_type=Path), help="Folder for the results [PROJECT/out].")
@click.option("--json", "as_json", is_flag=True, help="Print as JSON instead of text.")
def bench(
    project: Path,
    sweep: str | None,
    plane: str | None,
    antenna: str,
    name: str,
    attached: str,
    note: str,
    date: Any,
    port: int,
    columns: tuple[str, ...],
    reference: str | None,
    cut: str | None,
    added: str | None,
    ruler: str | None,
    out: Path | None,
    as_json: bool,
) -> None:
    """Take a measured SWEEP into PROJECT, compare it with its antenna, say why it differs and what to cut.

    \b
    aerialwright bench mine reading.s1p --plane antenna     a file: stored, compared
    aerialwright bench mine reading                         a sweep stored before: compared again
    aerialwright bench mine reading --cut '3 mm'            ... and the cut made after it noted
    aerialwright bench mine                                 the sweeps and cuts that are there

    Writes out/bench/SWEEP.html and .json. Ends with 1 when the antenna misses what the need asks.
    """
    from aerialwright.app.bench import bench_sweep
    from aerialwright.app.bench_data import benched_data
    from aerialwright.app.bench_log import list_data, list_text
    from aerialwright.base.errors import ProjectError

    step = _step(cut, added, ruler)
    if sweep is None:
        if step is not None:
            raise click.UsageError("name the sweep after which this was done")
        click.echo(json.dumps(list_data(project)) if as_json else list_text(project))
        return
    stored = sweep
    if "." in sweep or Path(sweep).name != sweep:
        stored = _take_in(
            project,
            Path(sweep),
            plane,
            columns,
            reference,
            name=name,
            antenna=antenna,
            attached=attached,
            note=note,
            date=date.date() if date else None,
            port=port,
        )
        if attached != "antenna":
            click.echo(json.dumps({"sweep": stored}) if as_json else f"{stored}: stored")
            return
    else:
        said = {
            "--plane": plane, "--antenna": antenna, "--name": name, "--attached": attached != "antenna", "--note": note,
            "--date": date, "--port": port != 1, "--column": columns, "--reference": reference,
        }  # fmt: skip
        if any(said.values()):
            raise ProjectError(
                f"'{sweep}' names a sweep that is stored: {', '.join(word for word, value in said.items() if value)} would be "
                "said of a new file",
                where="SWEEP", mend=f"change sweeps/{sweep}.toml, or write ./{sweep} for a file",
            )  # fmt: skip
    found = bench_sweep(project, stored, out=out, step=step)
    click.echo(json.dumps(benched_data(found), allow_nan=False) if as_json else found.text.rstrip())
    if not as_json:
        click.echo(f"\nReport: {found.report}")
    if found.comparison.accepted is False:
        raise SystemExit(int(Exit.NOTHING_SERVES))


def _step(cut: str | None, added: str | None, ruler: str | None) -> Step | None:
    """What was done to the metal, from the words of the command line."""
    from aerialwright.app.bench_log import Step
    from aerialwright.base.units import parse_length

    if sum(text is not None for text in (cut, added, ruler)) > 1:
        raise click.UsageError("--cut, --added and --ruler: one of them after one sweep")
    if cut is not None:
        return Step(cut=parse_length(cut, where="--cut", positive=True))
    if added is not None:
        return Step(cut=-parse_length(added, where="--added", positive=True))
    return None if ruler is None else Step(ruler=parse_length(ruler, where="--ruler", positive=True))


def _take_in(
    project: Path, file: Path, plane: str | None, columns: tuple[str, ...], reference: str | None, **told: Any
) -> str:
    """Store a file under the words of the command line; returns its name in the project."""
    from aerialwright.app.bench import parse_plane, take_in
    from aerialwright.base.errors import ProjectError
    from aerialwright.base.units import parse_impedance
    from aerialwright.project.needs import read_need

    if plane is None and told["attached"] == "antenna":
        raise ProjectError(
            "is missing",
            where="--plane",
            mend="say where the instrument was: antenna, line, 'line RG-58 10 m', estimate",
        )
    pairs = dict(text.partition("=")[::2] for text in columns)
    z0 = None if reference is None else parse_impedance(reference, where="--reference")
    note, _ = take_in(
        project, file, plane=parse_plane(plane or "antenna", read_need(project)), columns=pairs, reference=z0, **told
    )
    return note.name


@main.command()
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion(shell: str) -> None:
    """Print the completion script of a SHELL; put it where your shell looks for one."""
    from click.shell_completion import get_completion_class

    kind = get_completion_class(shell)
    assert kind is not None
    click.echo(kind(main, {}, "aerialwright", "_AERIALWRIGHT_COMPLETE").source())


if __name__ == "__main__":
    main()
