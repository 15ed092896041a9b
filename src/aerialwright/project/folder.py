"""A project is a folder: need.toml, designs/, built/, sweeps/, work/ and out/; made whole, and written by one at a time."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

from aerialwright.base.errors import ProjectError, printable
from aerialwright.project.needs import NEED_FILE, read_need

DESIGNS, BUILT, SWEEPS, WORK, OUTPUT = "designs", "built", "sweeps", "work", "out"
LOCK_FILE = ".lock"


def create_project(path: str | os.PathLike[str], *, from_example: str | os.PathLike[str] | None = None) -> Path:
    """Make a new project folder at ``path``, which must not exist or be empty; returns it.

    ``from_example`` is a project folder whose need, designs, built designs, sweeps and work are copied; without it a starter need is
    written. The folder appears complete or not at all. Raises :class:`ProjectError`.
    """
    target = Path(path)
    where = printable(str(target))[:300]
    temporary: Path | None = None
    try:
        if target.exists() and (not target.is_dir() or any(target.iterdir())):
            raise ProjectError("already exists and is not empty", where=where, mend="choose another name")
        target.parent.mkdir(parents=True, exist_ok=True)
        temporary = Path(tempfile.mkdtemp(prefix=f".{target.name[:40]}.", dir=target.parent))
        if from_example is None:
            shutil.copyfile(Path(__file__).with_name("starter.toml"), temporary / NEED_FILE)
        else:
            _copy(Path(from_example), temporary)
        for name in (DESIGNS, SWEEPS, OUTPUT):
            (temporary / name).mkdir(exist_ok=True)
        temporary.chmod(0o755)
        if target.exists():
            target.rmdir()
        os.replace(temporary, target)
        temporary = None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise ProjectError(
            f"cannot be made: {reason}", where=where, mend="check the folder and its permissions"
        ) from error
    finally:
        if temporary is not None:
            shutil.rmtree(temporary, ignore_errors=True)
    return target


def _copy(example: Path, target: Path) -> None:
    need = read_need(example)  # a broken example is refused with its own error
    shutil.copyfile(example / NEED_FILE, target / NEED_FILE)
    if need.satellite is not None and need.satellite.elements_file:
        shutil.copyfile(example / need.satellite.elements_file, target / need.satellite.elements_file)
    for name in (DESIGNS, BUILT, SWEEPS, WORK):
        source = example / name
        if source.is_dir():
            (target / name).mkdir()
            for entry in sorted(source.iterdir()):
                if entry.is_file():
                    shutil.copyfile(entry, target / name / entry.name)


def project_folder(path: str | os.PathLike[str]) -> Path:
    """The project folder of ``path`` (the folder, or a file in it); raises :class:`ProjectError` if there is none."""
    given = Path(path)
    where = printable(str(given))[:300]
    try:
        folder = given.parent if given.name == NEED_FILE or given.is_file() else given
        if not folder.is_dir():
            raise ProjectError("is not a project folder", where=where, mend="make one first, or check the name")
        if not (folder / NEED_FILE).is_file():
            raise ProjectError(f"has no {NEED_FILE}", where=where, mend="make a project there first")
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise ProjectError(f"cannot be opened: {reason}", where=where, mend="check the name") from error
    return folder


def output_folder(path: str | os.PathLike[str]) -> Path:
    """The project's folder for results, made if missing."""
    return made_folder(project_folder(path) / OUTPUT)


def made_folder(path: Path) -> Path:
    """``path``, made if missing with all that it lies in. Raises :class:`ProjectError`."""
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ProjectError(
            f"the folder cannot be made: {error.strerror}",
            where=printable(str(path)),
            mend="check its permissions, or choose another folder",
        ) from error
    return path


def listed_names(path: Path) -> set[str]:
    """Names in a list of files that an earlier run left at ``path``; none where it is gone or spoilt."""
    try:
        listed = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return set()
    return {name for name in listed if isinstance(name, str)} if isinstance(listed, list) else set()


@contextlib.contextmanager
def project_lock(path: str | os.PathLike[str], *, timeout: float = 5.0) -> Iterator[Path]:
    """Hold the project for writing; yields the folder. Raises :class:`ProjectError` if another holds it too long."""
    from filelock import FileLock, Timeout

    folder = project_folder(path)
    lock = FileLock(str(folder / LOCK_FILE))
    try:
        lock.acquire(timeout=timeout)
    except Timeout as error:
        raise ProjectError(
            "another program is writing to this project", where=printable(str(folder)), mend="wait until it is done"
        ) from error
    except OSError as error:
        raise ProjectError(
            f"cannot be locked: {error.strerror}", where=printable(str(folder)), mend="check the folder's permissions"
        ) from error
    try:
        yield folder
    finally:
        lock.release()
