"""Colours, dashes and signs: nothing is told by colour alone, and all of it survives a grey printer.

The hues are our own. Series colours keep a contrast of at least 3:1 with the sheet in both themes (WCAG 2.2,
success criterion 1.4.11), text colours at least 4.5:1 (criterion 1.4.3), and any two series stay apart for people
without red or green cones; tests compute all three.
"""

from __future__ import annotations

from dataclasses import dataclass

#: Name -> (light, dark). ``paper`` is the page, ``sheet`` the ground a picture stands on.
COLOURS: dict[str, tuple[str, str]] = {
    "paper": ("#f1f2ea", "#13191b"),
    "sheet": ("#fbfbf7", "#1a2225"),
    "ink": ("#1b292d", "#e8ece6"),
    "quiet": ("#4a595c", "#b0bbb8"),
    "rule": ("#7f8c8a", "#76858a"),
    "grid": ("#d5dad2", "#344044"),
    "band": ("#d3e2e8", "#24424e"),
    "wish": ("#8fa3a0", "#5f7579"),
    "accent": ("#134f6d", "#84c5e0"),
    "limit": ("#9b3a1a", "#f39a72"),
    "metal": ("#33464c", "#cfd8d6"),
    "far": ("#93a3a3", "#66777b"),
    "body": ("#dfe5e1", "#2c383c"),
    "series-1": ("#0f4a68", "#74b9d8"),
    "series-2": ("#a2430f", "#f09a62"),
    "series-3": ("#3a8f6c", "#8fe0bd"),
    "series-4": ("#8a4aa8", "#e2c3f7"),
    "series-5": ("#a07f00", "#d9b740"),
    "series-6": ("#50565c", "#98a2a9"),
}


def colour(name: str) -> str:
    """The value to put into a colour attribute: a style variable with its light value to fall back on."""
    return f"var(--aw-{name}, {COLOURS[name][0]})"


def style_variables(*, dark: bool) -> str:
    """Declarations of all colours for one theme, for a page that holds pictures inline."""
    return "".join(f"--aw-{name}:{pair[1 if dark else 0]};" for name, pair in COLOURS.items())


@dataclass(frozen=True)
class SeriesStyle:
    """How one curve among several is told apart: colour, dash pattern (empty: solid) and sign."""

    colour: str
    dash: str
    symbol: str

    @property
    def dash_or_none(self) -> str | None:
        """The dash as an attribute value."""
        return self.dash or None


_DASHES = ("", "7 3", "2 2.4", "11 3 2 3", "5 2 1.5 2 1.5 2", "14 4")
_SYMBOLS = ("circle", "square", "triangle", "diamond", "wedge", "cross")

#: The six styles in order; :func:`series_style` goes round when there are more.
SERIES = tuple(SeriesStyle(colour=colour(f"series-{k + 1}"), dash=_DASHES[k], symbol=_SYMBOLS[k]) for k in range(6))


def series_style(index: int) -> SeriesStyle:
    """Style of the curve with this place in the order."""
    return SERIES[index % len(SERIES)]
