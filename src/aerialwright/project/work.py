"""What was done to the metal after a sweep, as ``work/<sweep>.toml``: facts only, once each, never overwritten.

What the sweeps made of it is worked out again whenever it is needed; only what a finished antenna teaches is kept with its ruler
length, because the next answer may not have the design at hand.
"""

from __future__ import annotations

import datetime
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import Field

from aerialwright.base.atomic import write_text_atomic
from aerialwright.base.errors import ProjectError
from aerialwright.base.units import exact_text
from aerialwright.project.folder import WORK, made_folder, project_folder, project_lock
from aerialwright.project.schema import Coordinate, Length, Table, Word, validate
from aerialwright.project.sweeps import check_name
from aerialwright.project.text import TomlText, read_toml

_HEADING = "# What was done to the antenna after this sweep. Change nothing here: the next advice counts on it.\n"


@dataclass(frozen=True)
class Taught:
    """What a finished antenna teaches: ``ruler`` [m], its main dimension as measured, and ``apparent`` with ``spread`` [m], how much
    longer than designed the sweep makes it."""

    ruler: float
    apparent: float
    spread: float


@dataclass(frozen=True)
class Work:
    """One round of an ``antenna``, after ``sweep``: the ``number`` of the round from 1, the day it was noted, and the ``cut`` [m] made
    off each ``piece`` (negative: put on; 0: none); ``taught`` where it was measured by ruler."""

    sweep: str
    antenna: str
    number: int
    date: datetime.date
    piece: str = ""
    cut: float = 0.0
    taught: Taught | None = None


class _Taught(Table):
    ruler: Length
    apparent: Coordinate
    spread: Length


class _WorkFile(Table):
    antenna: Word
    number: int = Field(ge=1, le=10_000)
    date: datetime.date
    piece: Word = ""
    cut: Length | None = None
    added: Length | None = None
    finished: _Taught | None = None


def works(project: str | os.PathLike[str], *, antenna: str = "") -> tuple[Work, ...]:
    """All rounds of a project, or of one antenna, in the order they were noted. Raises :class:`ProjectError`."""
    folder = project_folder(project) / WORK
    found = [_read(path) for path in sorted(folder.glob("*.toml"))]
    chosen = [one for one in found if antenna in ("", one.antenna)]
    return tuple(sorted(chosen, key=lambda one: (one.antenna, one.number, one.sweep)))


def add_work(
    project: str | os.PathLike[str], sweep: str, antenna: str, *, piece: str, cut: float, taught: Taught | None = None
) -> Work:
    """Note what was done after ``sweep``. Raises :class:`ProjectError`, with nothing stored, where something is noted already."""
    check_name(sweep)
    with project_lock(project) as folder:
        target = made_folder(folder / WORK)
        if sweep.casefold() in {entry.stem.casefold() for entry in target.iterdir()}:
            raise ProjectError(
                "what was done after this sweep is noted already", where=f"{WORK}/{sweep}.toml",
                mend="sweep again and note it with that sweep",
            )  # fmt: skip
        number = 1 + max((one.number for one in works(folder, antenna=antenna)), default=0)
        work = Work(sweep, antenna, number, datetime.date.today(), piece if cut else "", cut, taught)
        write_text_atomic(target / f"{sweep}.toml", _text(work))
    return work


def _text(work: Work) -> str:
    import tomlkit

    document: dict[str, Any] = {"antenna": work.antenna, "number": work.number, "date": work.date}
    if work.cut:
        document |= {"piece": work.piece, "cut" if work.cut > 0.0 else "added": exact_text(abs(work.cut), "length")}
    if work.taught is not None:
        document["finished"] = {key: exact_text(value, "length") for key, value in vars(work.taught).items()}
    return _HEADING + tomlkit.dumps(document)


def _read(path: Path) -> Work:
    source: TomlText = read_toml(path)
    document = validate(_WorkFile, source)
    if document.cut is not None and document.added is not None:
        raise source.error("says that metal came off and was put on", ("added",), "keep one of both")
    off = document.cut or -(document.added or 0.0)
    taught = None if document.finished is None else Taught(**document.finished.model_dump())
    return Work(path.stem, document.antenna, document.number, document.date, document.piece, off, taught)
