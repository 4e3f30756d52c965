"""What a number of a car is measured with in a home shop, and how far one careful reading may be off.

What each tool is good for is common practice, no source.
"""

from __future__ import annotations

from typing import NamedTuple

from ovalwright.units import Kind


class Tool(NamedTuple):
    """What something is measured with, and half of the 95 % band of one careful reading with it."""

    name: str
    give: str


_TAPE, _RULE, _CALIPER = (
    Tool("tape measure", "1/8 in"),
    Tool("steel rule", "1/16 in"),
    Tool("caliper", "0.01 in"),
)
_LEVELED = (Tool("rule on a level floor", "1/8 in"), Tool("height gauge", "1/32 in"))
_ON_A_SCALE = (Tool("scale pad", "1 lb"), Tool("hanging scale", "2 lb"), Tool("bathroom scale", "3 lb"))
_RATER = (Tool("spring rater", "2 %"), Tool("press over a scale pad", "4 %"))
TOOLS: dict[str, tuple[Tool, ...]] = {
    "point": (
        Tool("plumb bob and steel rule", "1/16 in"),
        Tool("tape alone", "1/4 in"),
        Tool("surface plate", "0.02 in"),
    ),
    "wheelbase": (Tool("tape between plumb lines", "1/4 in"), Tool("trammel bar or laser", "1/16 in")),
    "tread": (Tool("tape between plumb lines", "1/4 in"), Tool("trammel bar or laser", "1/16 in")),
    "height": _LEVELED,
    "roll_out": (Tool("tire tape", "1/8 in"), Tool("chalk mark on the floor", "1/4 in")),
    "toe": (Tool("toe plates", "1/16 in"), Tool("scribed line and trammel", "1/32 in")),
    "travel": (_TAPE, _RULE),
    "coil_length": (_TAPE, _RULE),
    "bind_height": (_RULE, _CALIPER),
    "gap": (_RULE, _CALIPER),
    "shift": (_TAPE, _RULE),
    "bar_size": (Tool("caliper", "0.004 in"), Tool("micrometer", "0.001 in")),
    "bar_length": (_TAPE, _RULE),
    "tire_width": (_TAPE, _RULE),
    "wear": (Tool("depth gauge", "0.01 in"),),
    "mass": _ON_A_SCALE,
    "volume": (Tool("marked can", "0.8 gal"), Tool("can on a scale", "0.2 gal")),
    "density": (Tool("can on a scale", "0.06 lb/gal"),),
    "force": (Tool("scale pad", "2 lb"), Tool("bathroom scale", "4 lb")),
    "spring_rate": _RATER,
    "stop_rate": (Tool("spring rater", "10 %"), Tool("press over a scale pad", "15 %")),
    "bar_rate": (Tool("known weights on its arm", "6 %"),),
    "tire_rate": (Tool("scale pad and rule", "8 %"),),
    "camber": (Tool("camber gauge", "0.2 deg"), Tool("level and rule", "0.5 deg")),
    "caster": (Tool("caster gauge", "0.8 deg"),),
    "angle": (Tool("angle finder", "0.5 deg"),),
    "motion_ratio": (Tool("steel rule at both", "0.02"), Tool("two dial indicators", "0.01")),
    "pressure": (Tool("one good gauge", "0.3 psi"), Tool("stick gauge", "1 psi")),
    "temperature": (Tool("pyrometer", "2 F"),),
}
"""By kind of quantity; the first is the usual one. What each is good for: common practice, no source."""


def tools_for(kind: Kind, own: tuple[Tool, ...] = ()) -> tuple[Tool, ...]:
    """The tools a thing of a kind is measured with, the usual one first."""
    return own or TOOLS.get(kind.name) or (Tool("careful reading", _careful(kind)),)


def _careful(kind: Kind) -> str:
    """Half of the 95 % band of a careful reading, as the kind of quantity tells it."""
    absolute, share = kind.measured
    return f"{200 * share:g} %" if share and not absolute else f"{2 * absolute:g} {kind.us}".strip()
