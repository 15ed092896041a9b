"""An invented satellite for tests: circular, 520 km, 97.5 degree."""

from __future__ import annotations

LINES = """FINCHLING-1
1 99901U          26305.50000000  .00002000  00000-0  10000-3 0  9995
2 99901  97.5000  15.0000 0005000  90.0000 270.0000 15.15323725    15
"""
