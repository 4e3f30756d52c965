"""How a tire warms, wears and ages: a table of the setup that nearly everyone leaves out.

Nobody publishes these numbers for a race tire. Typical values are tuned so that a run ends at temperatures,
pressures and wear that the trade reads (common practice, no source); their give-or-take is wide on purpose.
Heat transfers are those at 80 mph.
"""

from __future__ import annotations

from ovalwright.documents.part import Amount, Part, typical


class TireHeat(Part):
    """Heat, wear and age of one tire."""

    heat_cycles: Amount = typical("count", "1", "0", "times it was hot; 0 is new and not scuffed")
    best: Amount = typical("temperature", "190 F", "20 F", "tread temperature of the best grip")
    window: Amount = typical(
        "temperature_span", "180 F", "40 F", "grip is 1 - (off / window) ** 2 that far off the best"
    )
    softening: Amount = typical("heat_loss", "0.1 %/F", "0.05 %/F", "cornering stiffness lost by heat")
    easing: Amount = typical("heat_loss", "0.55 %/F", "0.2 %/F", "rolling resistance lost by a warm carcass")
    unscuffed_loss: Amount = typical("share", "3 %", "2 %", "grip a new tire lacks in its first laps")
    cycle_loss: Amount = typical("share", "0.4 %", "0.2 %", "grip lost per heat cycle")
    hot_loss: Amount = typical("share", "2 %", "1 %", "grip lost by 10 minutes at the best temperature")
    worn_loss: Amount = typical("share", "15 %", "8 %", "grip lost with all of the tread")
    tread_depth: Amount = typical("wear", "0.16 in", "0.03 in", "rubber over the cords, new")
    wear: Amount = typical("wear_rate", "0.0021 in/MJ", "x2", "tread lost per sliding work at the best")
    wear_heat: Amount = typical(
        "temperature_span", "72 F", "25 F", "rise that makes wear and hardening 2.7 times as fast"
    )
    heat_growth: Amount = typical(
        "heat_growth", "0.002 in/F", "0.001 in/F", "roll-out by heat of the carcass"
    )
    stretch: Amount = typical("growth", "0.1 in", "0.06 in", "roll-out gained in a run that stays")
    sliding_share: Amount = typical("share", "50 %", "10 %", "sliding work that heats the tire, not the road")
    carcass_share: Amount = typical(
        "share", "60 %", "10 %", "rolling loss that heats the carcass, not the tread"
    )
    tread_capacity: Amount = typical("heat_capacity", "5.5 kJ/K", "1 kJ/K")
    carcass_capacity: Amount = typical("heat_capacity", "11 kJ/K", "3 kJ/K")
    tread_to_road: Amount = typical("heat_transfer", "65 W/K", "25 W/K")
    tread_to_air: Amount = typical("heat_transfer", "35 W/K", "12 W/K")
    tread_to_carcass: Amount = typical("heat_transfer", "60 W/K", "25 W/K")
    carcass_to_air: Amount = typical("heat_transfer", "20 W/K", "8 W/K")
    carcass_to_gas: Amount = typical("heat_transfer", "20 W/K", "8 W/K")


class LeftTireHeat(TireHeat):
    """The same of a tire of the left side: compounds sold for it work at less heat than it would take on the
    right (common practice, no source: treads read 140 to 190 F there where the right sides read 180 to 230).
    """

    best: Amount = typical("temperature", "165 F", "20 F", "tread temperature of the best grip")
