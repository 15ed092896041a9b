"""The standing cautions of antenna work, in the order in which people get hurt; the last one hands over to those who are licensed."""

from __future__ import annotations

import math

from aerialwright.base.printing import format_length
from aerialwright.design.records import Exposure
from aerialwright.need.model import Need


def standing(need: Need, found: Exposure | None) -> tuple[tuple[str, str], ...]:
    """(name, text) of each; exposure only where someone transmits, with the distances that were ``found`` for the antenna. None of
    them replaces the local code."""
    lines = [
        ("Power lines first", "Look up before anything else. Keep mast and antenna at least twice their height from any line, so that "
         "nothing can touch one even if it falls. If it does touch: let go, stay away, call the utility."),
        ("Lightning and bonding", "Mast and coax screen are bonded to the building's earthing, the arrestor sits outside at the entry: "
         "have it done or checked by a licensed electrician. Unplugging is no protection. Never work with a storm about."),
        ("Height", "Two people, firm ladder, no wind, nothing wet; chimneys carry less than they seem to."),
        ("Tips and eyes", "Cap or loop every rod end below 2.5 m (8 ft). Eye protection when cutting and bending."),
        ("Solder and flux", "Work in moving air; zinc and plastics give off fumes; wash hands after lead."),
    ]  # fmt: skip
    if not need.receive_only:
        lines.insert(2, ("Exposure when transmitting", _exposure(need, found)))
    return tuple(lines)


def _exposure(need: Need, found: Exposure | None) -> str:
    power = f"{need.transmit_power:g} W"
    if found is None:
        return (
            f"At {power} people must stay clear while you transmit: find the distance in your national radio-frequency exposure "
            "limits before the first call. Transmit only under a licence and with an approved set."
        )
    listed = ", ".join(f"{title} {format_length(math.ceil(distance * 20) / 20)}" for title, distance in found.distance)
    return (
        f"At {power} key down all the time, nobody closer to any of its metal than: {listed} (whole-body reference levels of 47 CFR "
        "1.1310 and ICNIRP 2020; near field of this antenna with a ground reflection added, loss of the coax not taken off). Your "
        "national limits decide. Transmit only under a licence and with an approved set."
    )


#: The last word.
WHO_DECIDES = (
    "Who decides",
    "Local code, your electricity utility and licensed trades come before anything on this sheet.",
)
