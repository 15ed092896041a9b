"""The need: what someone wants to hear or reach, from where, with what on the shelf. SI, validated, no files."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date


@dataclass(frozen=True)
class Band:
    """A frequency range: ``low`` and ``high`` [Hz]; ``importance`` is ``"must"`` or ``"wish"``."""

    label: str
    low: float
    high: float
    importance: str = "must"

    @property
    def centre(self) -> float:
        """Arithmetic centre [Hz]."""
        return 0.5 * (self.low + self.high)


@dataclass(frozen=True)
class FarEnd:
    """Where the other end is.

    ``kind``: ``"all round"``, ``"sector"`` or ``"sky"``. Elevations [degree] above the horizon that
    matter; ``azimuth`` and ``width`` [degree] only for a sector (azimuth clockwise from north).
    """

    kind: str = "all round"
    lowest_elevation: float = 0.0
    highest_elevation: float = 10.0
    azimuth: float = 0.0
    width: float = 360.0


@dataclass(frozen=True)
class FeedLine:
    """A coax: ``type`` is a key of the cable table or ``"other"``; ``length`` [m]; ``impedance`` [ohm];
    ``loss`` optional measured loss [dB] at ``loss_frequency`` [Hz] for the whole length."""

    type: str
    length: float
    impedance: float = 50.0
    loss: float | None = None
    loss_frequency: float | None = None


@dataclass(frozen=True)
class StockItem:
    """Something on the shelf.

    ``kind``: ``rod``, ``tube``, ``wire``, ``sheet``, ``mesh``, ``pipe`` (plastic), ``board`` (plastic).
    ``diameter`` outer [m]; ``wall`` [m]; ``length``, ``width``, ``thickness`` [m]; ``pitch`` (mesh, centre to
    centre) and ``wire_diameter`` [m]; ``quantity`` pieces. Unused ones are None. ``insulation_diameter`` [m] over the
    plastic ``insulation`` of a wire.
    """

    kind: str
    material: str
    label: str = ""
    quantity: int = 1
    diameter: float | None = None
    wall: float | None = None
    length: float | None = None
    width: float | None = None
    thickness: float | None = None
    pitch: float | None = None
    wire_diameter: float | None = None
    insulation_diameter: float | None = None
    insulation: str = ""

    @property
    def title(self) -> str:
        """What people call it."""
        return self.label or f"{self.material} {self.kind}"


@dataclass(frozen=True)
class Site:
    """Where it will hang: ``height`` of the antenna above ground or sea [m]; ``noise`` is one of the ITU-R
    P.372 classes ``"city"``, ``"residential"``, ``"rural"``, ``"quiet rural"``;
    ``metal_sheet`` [m] is the smaller side of a flat metal roof it can stand on, 0 without one. ``latitude`` and ``longitude``
    [degree], north and east positive, None when not told; ``horizon``: (azimuth, elevation) pairs [degree] of what stands in the
    way, straight between them. ``ground`` is a kind of ground below. Free text for the rest."""

    description: str = ""
    height: float = 5.0
    noise: str = "residential"
    metal_sheet: float = 0.0
    nearby: tuple[str, ...] = ()
    name: str = ""
    ground: str = "medium dry ground"
    latitude: float | None = None
    longitude: float | None = None
    horizon: tuple[tuple[float, float], ...] = ()

    @property
    def title(self) -> str:
        """What the site is called."""
        return self.name or self.description or "the site"


@dataclass(frozen=True)
class Limits:
    """``largest_size`` [m] of any side; ``tools`` the builder has; ``worst_swr`` asked over must-bands;
    ``most_parts`` cut pieces the builder is willing to make."""

    largest_size: float = 2.5
    tools: tuple[str, ...] = ()
    worst_swr: float = 2.5
    most_parts: int | None = None


class Given(float):
    """A number from a file that remembers what it was written as: ``kind`` is length, angle, count or empty."""

    kind: str

    def __new__(cls, value: float, kind: str = "") -> Given:
        """``value`` in SI, with its kind."""
        self = super().__new__(cls, value)
        self.kind = kind
        return self


@dataclass(frozen=True)
class OwnedAntenna:
    """An antenna the person has: a family key and the dimensions as given, SI, by the family's own names."""

    name: str
    family: str
    dimensions: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Cover:
    """A plastic pipe that stands over the antenna: ``stock`` is the label of a stock item of kind ``pipe``."""

    stock: str


@dataclass(frozen=True)
class Preamplifier:
    """An amplifier that is at hand or thought of: ``noise_figure`` and ``gain`` [dB]."""

    noise_figure: float
    gain: float


@dataclass(frozen=True)
class Satellite:
    """A far end in orbit. ``elements`` is the text of its orbital elements, ``elements_file`` where in the project it stands (empty:
    in the need itself). ``band`` is the label of the band it sends in, at its middle; ``power`` [W] and ``gain`` [dBi] of its antenna,
    whose polarisation is ``"tumbling"`` or ``"linear"`` (both of unknown tilt), ``"right-hand circular"`` or
    ``"left-hand circular"``; ``modulation`` is a key of the table. ``first_day`` counted from, None: today."""

    name: str
    elements: str
    band: str
    power: float
    modulation: str
    antenna: str = "tumbling"
    gain: float = 0.0
    elements_file: str = ""
    first_day: date | None = None


@dataclass(frozen=True)
class Need:
    """The whole wish. ``feed_lines[0]`` is the one in use, the rest are alternatives. ``receiver_noise_figure`` [dB], None: not known."""

    title: str
    question: str
    bands: tuple[Band, ...]
    far_end: FarEnd
    polarisation: str
    feed_lines: tuple[FeedLine, ...]
    site: Site
    limits: Limits
    transmit_power: float = 0.0
    transmit_band: str = ""
    receiver_impedance: float = 50.0
    connectors: tuple[str, ...] = ()
    stock: tuple[StockItem, ...] = ()
    owned: tuple[OwnedAntenna, ...] = ()
    cover: Cover | None = None
    receiver_noise_figure: float | None = None
    preamplifier: Preamplifier | None = None
    satellite: Satellite | None = None
    site_alternatives: tuple[Site, ...] = ()

    @property
    def sites(self) -> tuple[Site, ...]:
        """The site and its alternatives."""
        return (self.site, *self.site_alternatives)

    def cover_item(self) -> StockItem | None:
        """The stock item that the cover names, None without one."""
        if self.cover is None:
            return None
        name = self.cover.stock.strip().casefold()
        return next((i for i in self.stock if i.kind == "pipe" and i.label.strip().casefold() == name), None)

    @property
    def receive_only(self) -> bool:
        """True when no transmit power is asked."""
        return self.transmit_power <= 0.0

    @property
    def must_bands(self) -> tuple[Band, ...]:
        """The bands that decide."""
        return tuple(band for band in self.bands if band.importance == "must")
