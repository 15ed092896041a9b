"""aerialwright: from a reception need to an antenna that can be built, on real computation."""

__version__ = "0.1.0"
