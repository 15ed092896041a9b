"""Exit codes that scripts can use."""

from __future__ import annotations

from enum import IntEnum


class Exit(IntEnum):
    """What the program ends with."""

    DONE = 0
    #: An answer was written, but nothing on it keeps every limit asked.
    NOTHING_SERVES = 1
    #: The command line itself is wrong (click's own code).
    USAGE = 2
    #: A file, a quantity or a dimension is wrong; the message names the place and the mend.
    BAD_INPUT = 3
    #: Stopped by the person.
    STOPPED = 130
