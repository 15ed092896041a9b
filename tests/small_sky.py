"""An invented satellite for tests: circular, 520 km, 97.5 degree; and a small need that asks for it at two sites."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

from small_needs import need_for

from aerialwright.need.model import FarEnd, Need, Satellite, Site

LINES = """FINCHLING-1
1 99901U          26305.50000000  .00002000  00000-0  10000-3 0  9995
2 99901  97.5000  15.0000 0005000  90.0000 270.0000 15.15323725    15
"""
OMM = {
    "OBJECT_NAME": "FINCHLING-1", "OBJECT_ID": "", "CENTER_NAME": "EARTH", "REF_FRAME": "TEME", "TIME_SYSTEM": "UTC",
    "MEAN_ELEMENT_THEORY": "SGP4", "EPOCH": "2026-11-01T12:00:00.000000", "MEAN_MOTION": "15.15323725", "ECCENTRICITY": ".0005",
    "INCLINATION": "97.5", "RA_OF_ASC_NODE": "15", "ARG_OF_PERICENTER": "90", "MEAN_ANOMALY": "270", "NORAD_CAT_ID": "99901",
    "BSTAR": ".0001", "MEAN_MOTION_DOT": ".00002", "MEAN_MOTION_DDOT": "0",
}  # fmt: skip
KVN = "CCSDS_OMM_VERS = 2.0\nCOMMENT invented\n" + "".join(
    f"{key:<20} = {value}{' [deg]' if key == 'INCLINATION' else ''}\n" for key, value in OMM.items()
)
JSON = json.dumps([{key: float(v) if key == "MEAN_MOTION" else v for key, v in OMM.items()}])
XML = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<ndm><omm id="CCSDS_OMM_VERS" version="2.0"><header/><body><segment><data><meanElements>\n'
    + "".join(f"<{key}>{value}</{key}>\n" for key, value in OMM.items())
    + "</meanElements></data></segment></body></omm></ndm>"
)
ROOF = Site(
    "flat roof", 9.0, "residential", name="the roof", latitude=52.2, longitude=0.1, horizon=((0.0, 3.0), (180.0, 3.0))
)
FIELD = replace(ROOF, description="field", noise="rural", height=4.0, name="the field")


def sky_need(*, power: float = 0.3, antenna: str = "tumbling", modulation: str = "AFSK 1200") -> Need:
    """A must-band at 145.84 MHz, the satellite in it, roof and field."""
    return replace(
        need_for((145.8, 145.88), polarisation="any", far_end=FarEnd("sky", 5.0, 90.0)),
        site=ROOF, site_alternatives=(FIELD,),
        satellite=Satellite(
            "FINCHLING-1", LINES, "band 1", power, modulation, antenna=antenna, first_day=date(2026, 11, 2)
        ),
    )  # fmt: skip
