"""What goes wrong and what to watch for, as data every front can show."""

from __future__ import annotations

from dataclasses import dataclass


def printable(text: str) -> str:
    """``text`` without control characters, safe on a terminal."""
    return "".join(character if character.isprintable() else "?" for character in text)


class AerialwrightError(Exception):
    """Base of every error a user can mend.

    Parameters
    ----------
    what : str
        One line: what is wrong.
    where : str
        The place: file, line, key, element name or dimension. May be empty.
    mend : str
        One line: what to change. May be empty only if nothing can be done.
    """

    def __init__(self, what: str, *, where: str = "", mend: str = "") -> None:
        self.what = what
        self.where = where
        self.mend = mend
        super().__init__(self.one_line())

    def one_line(self) -> str:
        """The whole message on one line: place, fault, remedy."""
        text = f"{self.where}: {self.what}" if self.where else self.what
        if self.mend:
            text = f"{text}; {self.mend}"
        return " ".join(text.split())


class QuantityError(AerialwrightError):
    """A quantity that cannot be read as people write it."""


class NeedError(AerialwrightError):
    """A need that does not hold together."""


class ProjectError(AerialwrightError):
    """A project folder or file that cannot be read or written."""


class StructureError(AerialwrightError):
    """Metal that cannot exist or cannot be solved; names the dimension to change."""


class DesignError(AerialwrightError):
    """A family cannot be built or tuned within the limits given."""


class Cancelled(AerialwrightError):
    """Long work was stopped by the person who asked for it."""


@dataclass(frozen=True)
class Caution:
    """A limit that was passed or is near, as data.

    ``level`` is ``"note"`` (worth knowing), ``"caution"`` (the result is weaker for it)
    or ``"safety"`` (someone can be hurt).
    """

    level: str
    text: str
    remedy: str = ""
    measured: float | None = None
    limit: float | None = None
    unit: str = ""
