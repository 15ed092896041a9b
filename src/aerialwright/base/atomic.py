"""Writing a file so that a crash leaves the old one or the new one, never half of either."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from aerialwright.base.errors import ProjectError


def write_bytes_atomic(path: str | os.PathLike[str], data: bytes) -> Path:
    """Write ``data`` to ``path`` through a temporary file in the same folder, fsync and rename.

    A symbolic link is followed, so the link stays a link; the mode of an existing file is kept.
    Returns the path written. Raises :class:`ProjectError` with the reason of the operating system.
    """
    target = Path(path)
    temporary: str | None = None
    try:
        real = Path(os.path.realpath(target, strict=False))
        if real.is_dir():
            raise ProjectError("is a folder, a file was to be written", where=str(target), mend="choose another name")
        try:
            mode = real.stat().st_mode & 0o777
        except FileNotFoundError:
            mode = 0o666 & ~_umask()
        descriptor, temporary = tempfile.mkstemp(prefix=f".{real.name[:40]}.", suffix=".part", dir=real.parent)
        with os.fdopen(descriptor, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(temporary, mode)
        os.replace(temporary, real)
        temporary = None
        _sync_folder(real.parent)
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise ProjectError(
            f"cannot be written: {reason}",
            where=str(target),
            mend="check the folder, its permissions and the free space",
        ) from error
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                os.unlink(temporary)
    return target


def write_text_atomic(path: str | os.PathLike[str], text: str) -> Path:
    """Write ``text`` as UTF-8 with the newlines it has; otherwise as :func:`write_bytes_atomic`."""
    try:
        data = text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise ProjectError(
            "the text holds half of a character pair and cannot be stored",
            where=str(path),
            mend="retype that character",
        ) from error
    return write_bytes_atomic(path, data)


def _umask() -> int:
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def _sync_folder(folder: Path) -> None:
    """Make the rename itself durable; not every file system can, and that is no reason to fail."""
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
