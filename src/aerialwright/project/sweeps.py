"""Sweeps of a project: ``sweeps/<name>.<ending>`` holds the bytes as they came, ``sweeps/<name>.toml`` what is known of them.

The design a sweep belongs to is kept in ``built`` when the first sweep of it is added, so that the next answer cannot change it.
Nothing here is ever overwritten.
"""

from __future__ import annotations

import datetime
import json
import os
import re
import stat
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import Field

from aerialwright.base.atomic import write_bytes_atomic, write_text_atomic
from aerialwright.base.errors import AerialwrightError, ProjectError, printable
from aerialwright.base.units import exact_text
from aerialwright.bench.read_sweep import read_sweep
from aerialwright.bench.records import Measured, Plane
from aerialwright.bench.text import LARGEST_FILE
from aerialwright.project.folder import BUILT, DESIGNS, OUTPUT, SWEEPS, made_folder, project_folder, project_lock
from aerialwright.project.schema import Impedance, Length, Prose, Table, Word, validate
from aerialwright.project.text import read_toml

#: What can hang on the instrument's cable: the antenna, or one of the ends a line is measured with.
ATTACHED = ("antenna", "open", "short", "load")
PLANES = ("antenna", "line", "measured", "estimate")
_ENDINGS = ("s1p", "s2p", "ts", "csv", "tsv", "txt", "dat")
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,99}")
#: What a build sheet calls a design.
_IDENTITY = re.compile(r"[0-9a-f]{8}")
#: Names that some systems keep for devices.
_RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{k}" for port in ("com", "lpt") for k in range(1, 10))}


@dataclass(frozen=True)
class SweepNote:
    """What is known of a sweep: its ``file``, when, of which ``antenna``, at which plane, what hung there, how to read it."""

    name: str
    file: str
    date: datetime.date
    antenna: str
    plane: Plane
    attached: str = "antenna"
    note: str = ""
    port: int = 1
    columns: Mapping[str, str | int] = field(default_factory=dict)
    reference: float | None = None


class _NoteFile(Table):
    file: Word
    date: datetime.date
    antenna: Word = ""
    attached: Word
    note: Prose = ""
    plane: Word
    line: Word = ""
    length: Length | None = None
    far_ends: dict[Word, Word] = Field(default={}, max_length=3)
    port: int = 1
    columns: dict[Word, Word | int] = Field(default={}, max_length=20)
    reference: Impedance | None = None


def check_name(name: str, *, what: str = "sweep") -> str:
    """``name`` if it can be a file's anywhere. Raises :class:`ProjectError`."""
    if not _NAME.fullmatch(name) or name.casefold() in _RESERVED:
        raise ProjectError(
            f"'{printable(name)[:60]}' cannot name a {what}", where="name",
            mend="use letters, digits, '-' and '_' only, 100 at most, a letter or digit first",
        )  # fmt: skip
    return name


def read_bytes(path: str | os.PathLike[str]) -> bytes:
    """Bytes of an ordinary file no larger than a sweep can be. Raises :class:`ProjectError`."""
    where = printable(str(path))[:300]
    try:
        status = os.stat(path)
        if not stat.S_ISREG(status.st_mode):
            raise ProjectError("is not an ordinary file", where=where, mend="name the file of a sweep")
        if status.st_size > LARGEST_FILE:
            raise ProjectError(
                f"is larger than {LARGEST_FILE // 1_000_000} MB", where=where, mend="export fewer points"
            )
        return Path(path).read_bytes()
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise ProjectError(
            f"cannot be read: {reason}", where=where, mend="check the name and its permissions"
        ) from error


def add_sweep(project: str | os.PathLike[str], data: bytes, note: SweepNote) -> Measured:
    """Store a sweep under ``note.name``; the file's ending is that of ``note.file``. It must read, and its name be free.

    Raises
    ------
    ProjectError, SweepError
        With nothing stored.
    """
    check_name(note.name)
    _check_note(note, str(note.file))
    ending = Path(note.file).suffix.lower().lstrip(".")
    file = f"{note.name}.{ending if ending in _ENDINGS else 'txt'}"
    measured = _measured(data, note, Path(note.file).name)
    read_far_ends(project, note.plane)
    with project_lock(project) as folder:
        target = made_folder(folder / SWEEPS)
        taken = {entry.stem.casefold() for entry in target.iterdir()}
        if note.name.casefold() in taken:
            raise ProjectError(
                "is there already", where=f"{SWEEPS}/{note.name}", mend="give the new sweep another name"
            )
        if note.antenna:
            _keep_built(folder, note.antenna)
        write_bytes_atomic(target / file, data)
        write_text_atomic(target / f"{note.name}.toml", _text(note, file))
    return measured


def sweeps(project: str | os.PathLike[str]) -> tuple[SweepNote, ...]:
    """Notes of all sweeps of a project, oldest first."""
    folder = project_folder(project) / SWEEPS
    notes = [_read_note(path) for path in sorted(folder.glob("*.toml"))]
    return tuple(sorted(notes, key=lambda note: (note.date, note.name)))


def read_stored(project: str | os.PathLike[str], name: str) -> tuple[SweepNote, Measured]:
    """A sweep of the project with its note. Raises :class:`ProjectError` or :class:`SweepError`."""
    folder = project_folder(project) / SWEEPS
    path = folder / f"{check_name(name)}.toml"
    if not path.is_file():
        known = ", ".join(sorted(entry.stem for entry in folder.glob("*.toml"))[:20]) or "none yet"
        raise ProjectError(f"there is no sweep '{name}'", where=str(folder), mend=f"sweeps of this project: {known}")
    note = _read_note(path)
    return note, _measured(read_bytes(folder / note.file), note, note.file)


def read_far_ends(project: str | os.PathLike[str], plane: Plane) -> dict[str, Measured]:
    """The sweeps of the line by its far end. Raises :class:`ProjectError` for one that was not taken with its far end so."""
    found = {}
    for end, name in plane.far_ends:
        note, found[end] = read_stored(project, name)
        if note.attached != end:
            raise ProjectError(
                f"was swept with its far end '{note.attached}', not '{end}'",
                where=name,
                mend=f"name a sweep that was stored with --attached {end}",
            )
    return found


def antenna_file(project: str | os.PathLike[str], antenna: str) -> Path:
    """The design that a sweep's ``antenna`` names: one that was built, one of the last answer, or a free-form structure; by its file,
    the start of that, or what its build sheet calls it.

    Without a name it is the only one that was built, or else the one that the last answer recommends. Raises
    :class:`ProjectError`.
    """
    folder = project_folder(project)
    if not antenna:
        antenna = _recommended(folder)
    check_name(antenna, what="design")
    places = [folder / BUILT, folder / OUTPUT / DESIGNS, folder / DESIGNS]
    known: dict[str, Path] = {}
    for path in (path for place in places for path in sorted(place.glob("*.toml")) if path.is_file()):
        known.setdefault(path.stem, path)
    if antenna in known:
        return known[antenna]
    if _IDENTITY.fullmatch(antenna):
        for path in (path for place in places[:2] for path in sorted(place.glob("*.toml"))):
            if _is_called(path, antenna):
                return path
    near = sorted(name for name in known if name.startswith(antenna))
    if len(near) == 1:
        return known[check_name(near[0], what="design")]
    shown = ", ".join((near or sorted(known))[:20]) or "none: let the program answer this project first"
    raise ProjectError(f"there is no design '{antenna}'", where=str(folder), mend=f"designs: {shown}")


def _is_called(path: Path, identity: str) -> bool:
    """Whether a design's build sheet bears this name; a file that holds none does not."""
    from aerialwright.project.designs import read_design
    from aerialwright.sheet.build import identity_of

    try:
        return identity_of(read_design(path).design) == identity
    except AerialwrightError:
        return False


def _recommended(folder: Path) -> str:
    there = sorted((folder / BUILT).glob("*.toml"))
    if len(there) == 1:
        return there[0].stem
    path = folder / OUTPUT / "comparison.json"
    try:
        members = json.loads(path.read_text(encoding="utf-8"))["proposals"][0]["members"]
        names = [str(member["name"]) for member in members]
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        raise ProjectError(
            "does not tell which antenna was swept",
            where=str(folder),
            mend="name the antenna, or let the program answer the project first",
        ) from None
    if len(names) != 1:
        raise ProjectError(
            f"the answer recommends {len(names)} antennas", where=str(folder), mend=f"name one: {', '.join(names)}"
        )
    return names[0]


def _keep_built(folder: Path, antenna: str) -> None:
    """Keep the design of an answer where the next one does not reach it."""
    path = antenna_file(folder, antenna)
    if path.parent == folder / OUTPUT / DESIGNS:
        write_bytes_atomic(made_folder(folder / BUILT) / path.name, read_bytes(path))


def _measured(data: bytes, note: SweepNote, name: str) -> Measured:
    return read_sweep(data, name=name, port=note.port, columns=dict(note.columns), reference=note.reference)


def _text(note: SweepNote, file: str) -> str:
    import tomlkit

    document: dict[str, Any] = {
        "file": file, "date": note.date, "antenna": note.antenna, "attached": note.attached, "note": note.note,
        "plane": note.plane.kind,
    }  # fmt: skip
    if note.plane.kind == "line":
        document |= {"line": note.plane.line_type, "length": exact_text(note.plane.length, "length", unit="m")}
    if note.plane.far_ends:
        document["far_ends"] = dict(note.plane.far_ends)
    if note.port != 1:
        document["port"] = note.port
    if note.columns:
        document["columns"] = dict(note.columns)
    if note.reference is not None:
        document["reference"] = exact_text(note.reference, "impedance")
    return tomlkit.dumps(document)


def _read_note(path: Path) -> SweepNote:
    source = read_toml(path)
    document = validate(_NoteFile, source)
    if Path(document.file).name != document.file or document.file.startswith("."):
        raise source.error("is no file of this folder", ("file",), "give the name alone")
    plane = Plane(document.plane, document.line, document.length or 0.0, tuple(document.far_ends.items()))
    note = SweepNote(
        path.stem, document.file, document.date, document.antenna, plane, document.attached, document.note, document.port,
        document.columns, document.reference,
    )  # fmt: skip
    _check_note(note, str(path))
    return note


def _check_note(note: SweepNote, where: str) -> None:
    """What a note says must hold together."""
    if note.attached not in ATTACHED:
        raise ProjectError(
            f"'{printable(note.attached)[:40]}' is nothing to attach",
            where=where,
            mend=f"allowed: {', '.join(ATTACHED)}",
        )
    plane = note.plane
    if plane.kind not in PLANES:
        raise ProjectError(
            f"'{printable(plane.kind)[:40]}' is no plane", where=where, mend=f"allowed: {', '.join(PLANES)}"
        )
    if plane.kind == "line" and not (plane.line_type and plane.length > 0.0):
        raise ProjectError("a line needs its type and length", where=where, mend="give both, or another plane")
    if (plane.kind == "measured") is not bool(plane.far_ends):
        raise ProjectError(
            "names sweeps of the far end only, and always, where the line was measured", where=where,
            mend="give plane = 'measured' with far_ends, or neither",
        )  # fmt: skip
    if len(dict(plane.far_ends)) < len(plane.far_ends):
        raise ProjectError("names a far end twice", where=where, mend="keep one sweep for each")
    for end, sweep in plane.far_ends:
        if end not in ATTACHED[1:]:
            raise ProjectError(
                f"'{printable(end)[:40]}' is no far end", where=where, mend=f"allowed: {', '.join(ATTACHED[1:])}"
            )
        check_name(sweep)
