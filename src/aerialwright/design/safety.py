"""The standing cautions of antenna work, in the order in which people get hurt; the last one hands over to those who are licensed."""

from __future__ import annotations

from aerialwright.need.model import Need


def standing(need: Need) -> tuple[tuple[str, str], ...]:
    """(name, text) of each; exposure only where someone transmits. None of them replaces the local code."""
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
        lines.insert(2, ("Exposure when transmitting", f"At {need.transmit_power:g} W people must stay clear while you transmit: find "
                         "the distance in your national radio-frequency exposure limits before the first call. Transmit only under a "
                         "licence and with an approved set."))  # fmt: skip
    return tuple(lines)


#: The last word.
WHO_DECIDES = (
    "Who decides",
    "Local code, your electricity utility and licensed trades come before anything on this sheet.",
)
