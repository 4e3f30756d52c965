"""How a number of a car is measured in a home shop, and what is said where it can hurt somebody.

Common practice, no source; the builder knows his car better.
"""

from __future__ import annotations

from typing import NamedTuple

from ovalwright.notebook.garage.cautions import AIR, COILS, FUEL, LEAD, MOVING, STANDS
from ovalwright.notebook.garage.measuring_tools import Tool


class How(NamedTuple):
    """How the things with one of some words in their name are measured."""

    words: tuple[str, ...]
    steps: str
    cautions: tuple[str, ...] = ()
    tools: tuple[Tool, ...] = ()


PER_INCH = (
    "Take the coil out with the car on stands, raise the wheel an inch from ride height and read what the "
    "other has moved."
)
LIFTED = (
    "Weigh it level, then with one axle lifted 20 in, shocks blocked solid and tires at racing pressure; "
    "ovalwright lift on the laptop works the height out of the two."
)
DYNO = "Ask for the sheet of the engine's own dyno run; without one leave it typical."
ROLLED = "Roll it a full turn on the shop floor, or lay the tape around it, at the pressure noted beside it."
HOW: tuple[How, ...] = (
    How(
        ("lap time",),
        "Take a clean lap on a day like the one ahead, by a clock you trust; type it on Lap and run.",
    ),
    How(
        ("corner weights", ".weight"),
        "Roll it off the pads and on again, and read all four once more.",
    ),
    How(
        ("sprung.height", "whole_car_height"),
        LIFTED,
        (STANDS, MOVING),
        (Tool("one lift of 20 in", "1.2 in"), Tool("three lifts that agree", "0.8 in")),
    ),
    How(("unsprung.height",), "Measure the middle of the wheels above the ground, tires at racing pressure."),
    How(
        ("unsprung.axle_left",),
        "Weigh the bare axle with a pad under each wheel: the heavier side tells.",
        (STANDS,),
    ),
    How(("wheel_spin",), "Ask the maker of wheel and rotor; without a figure leave it typical."),
    How(("unsprung",), "Weigh it bare with its wheel, brake and half of the links.", (STANDS, COILS)),
    How(("gyration", "half_station"), "Ask the builder; no measurement in a home shop settles it."),
    How(
        ("aero.",),
        "Ask the builder for figures of a wind tunnel or a coast-down; without any leave it typical.",
    ),
    How(("heat_cycles",), "Count the runs it was hot in; the notebook does, for a tire that bears a mark."),
    How(("tread_depth",), "Read the depth gauge in three grooves or holes across the tread."),
    How(("tire.heat.", ".grip"), "Ask the tire's maker; no measurement in a home shop settles it."),
    How(
        ("growth",),
        "Roll every tire out at two pressures on one day; divide what its roll-out gained by what the "
        "pressure did.",
        (AIR,),
    ),
    How(("tire.hot",), "Read the pressures the moment the car comes in.", (AIR,)),
    How(("tire.cold", "pressure"), "Read it with one gauge, in the shade, before the first run.", (AIR,)),
    How(("roll_out",), ROLLED, (AIR,)),
    How(
        ("rate_at_zero", "rate_gain"),
        "On a pad, read weight and height of the wheel's middle at two loads and one pressure, then at "
        "another "
        "pressure: pounds over inches is its rate; what the rate gains per psi, and what is left at no "
        "pressure.",
        (AIR, STANDS),
    ),
    How(("tire.width", ".width"), "Lay a rule across the tread, edge to edge."),
    How(("sheet.fuel",), "Run the cell dry, then fill it from a marked can.", (FUEL,)),
    How(
        ("pad_level",), "Lay a level or a water hose across the four pads; write by how much one may be off."
    ),
    How(("capacity",), "Run the cell dry, then fill it from a marked can until it is full.", (FUEL,)),
    How(("density",), "Weigh a can empty and with a measured gallon in it.", (FUEL,)),
    How(("slosh",), "Ask the maker of the cell and its foam; no measurement in a home shop settles it."),
    How(
        ("full_height", "empty_height"),
        "Measure the cell's top and bottom above the ground; the middle of the fuel is half way.",
        (FUEL,),
    ),
    How(
        ("fuel_cell.",),
        "Plumb the middle of the cell to the floor; measure to the rear axle and to the centerline.",
    ),
    How(
        ("rear.axle_left",),
        "Plumb the middle of the axle and that of the frame to the floor; measure between.",
        (STANDS,),
    ),
    How(
        ("coil_base",), "Measure across the car between the rear coils where they sit on the axle.", (STANDS,)
    ),
    How(("coil_lean", "coil_angle"), "Lay an angle finder along the coil, car at ride height.", (STANDS,)),
    How(("rear.short.roll_center_height",), "Measure both ends of the panhard bar above ground: half way."),
    How(
        ("roll_center", "anti_dive", "anti_squat"),
        "Measure the pivots and ball joints of both sides instead, which tell it.",
        (STANDS,),
    ),
    How(
        ("roll_steer",),
        "Raise one rear wheel and lower the other an inch, coils out, and measure how far each moved ahead.",
        (STANDS, COILS),
    ),
    How(
        ("panhard_length", "panhard_behind_axle"),
        "Measure between the middles of its bolts; plumb both to the floor.",
        (STANDS,),
    ),
    How(("coil_ratio", "bar_ratio"), PER_INCH, (STANDS, COILS)),
    How(
        ("camber_gain",),
        "Take the coil out, raise the wheel an inch and read the camber gauge before and after.",
        (STANDS, COILS),
    ),
    How(
        ("bump_steer",),
        "Take the coil out, raise the wheel an inch and read the toe before and after.",
        (STANDS, COILS),
    ),
    How(
        ("kingpin", "scrub", ".trail"),
        "Plumb both ball joints and the middle of the tread to the floor; measure between.",
        (STANDS,),
    ),
    How(
        ("camber_give", "toe_give", "axle_steer_give", "axle_camber_give"),
        "Ask the builder; no measurement in a home shop settles it.",
    ),
    How(("camber",), "Read the camber gauge on the pads, driver in, at the pressures of the sheet."),
    How(("caster",), "Swing the wheel 20 degrees out and in and read the caster gauge."),
    How(("toe_gauge",), "Measure the length of the toe plates."),
    How(("toe_out",), "Read the toe plates front and back, wheels straight, driver in."),
    How(
        ("rear_lead",),
        "Square the axle to the front pivots with strings; measure by how much RR is ahead.",
        (STANDS,),
    ),
    How(
        ("twist_rate", "twist_axis"),
        "Block three corners of the bare frame, hang a known weight on a long bar at the fourth, and "
        "read what it moves; the builder may have done it.",
        (STANDS,),
        (Tool("one bar, one weight", "25 %"), Tool("three weights that agree", "15 %")),
    ),
    How(("pitman_arm", "arm_pivot"), "Measure between the middles of its joints.", (STANDS,)),
    How(
        (".arm",),
        "Measure from the middle of the bar square across to the hole of the link.",
        (STANDS,),
    ),
    How(
        ("slack",),
        "With the link loose, move the arm up and down by hand and read its play.",
        (STANDS,),
    ),
    How(
        ("bar.preload",),
        "Unload the link until it turns free; count the rounds that it is set from there.",
        (STANDS,),
    ),
    How(("modulus",), "Ask the maker of the bar which steel it is."),
    How(("diameter", "bore"), "Read a caliper over the part that twists, in three places.", (STANDS,)),
    How(
        ("jack_bolt", "link_pitch"),
        "Count the threads over an inch: with eight of them a round moves 1/8 in.",
    ),
    How((".turned",), "Count the rounds from where the bolt stood on the scales."),
    How(
        (".length",),
        "Measure between the bearings, or the flats of its arms.",
        (STANDS,),
    ),
    How(
        ("bind_height", "bound_rate"),
        "Press it on the rater until its coils touch and read its height; never by hand.",
        (COILS,),
    ),
    How(("free_length",), "Stand it on the bench, unloaded, and measure it at two sides.", (COILS,)),
    How(
        ("gas_force",),
        "Push the shaft down onto a scale, slowly, to mid stroke, and read it there.",
        (COILS,),
    ),
    How(
        ("droop",), "Raise the frame slowly until the wheel lifts and read how far the frame rose.", (STANDS,)
    ),
    How(
        (".gap", "packers"),
        "Read it with feeler strips or a drill shank, at ride height, driver in.",
        (STANDS, COILS),
    ),
    How(("stop.", "bump_spring."), "Press it on the rater over what it is squeezed in the turn.", (COILS,)),
    How(
        ("steering.ratio",),
        "Turn the steering wheel one turn and read what the front wheel turns on its plate.",
    ),
    How(("engine.",), DYNO),
    How(
        ("final_drive", ".ratio"),
        "Count the teeth of every pair; the driven over the driving ones, multiplied.",
    ),
    How(
        ("brake_front",),
        "Read both line pressures at a firm pedal and reckon with pistons and rotors; or ask the maker.",
        (STANDS,),
    ),
    How(("disc",), "Weigh the bare rotor."),
    How(("brakes.",), "Ask the maker of pads, calipers and fluid."),
    How(
        ("wheelbase",),
        "Plumb both axles to the floor, wheels straight, and measure between; take the mean of both sides.",
    ),
    How(("tread.",), "Measure between the middles of the two tire prints on the floor."),
    How(("driver.mass",), "Weigh him with helmet, suit and gear."),
    How(("driver.place",), "Measure to the middle of his belly, belted in: that is near enough."),
    How(("lead",), "Weigh the piece; plumb its middle to the floor.", (LEAD,)),
    How(
        ("height_points", "frame_points", "points"),
        "Plumb it to the floor: forward of the front axle, left of the centerline, up from the ground.",
        (STANDS,),
    ),
    How(("rate",), "Put it on a spring rater, over the travel it works in.", (COILS,)),
    How(("height",), "Read it on the pads with the driver in, tires at the pressures of the sheet."),
    How(("bank",), "Lay a level across the groove and measure the rise over its length."),
    How(
        ("radius",),
        "Step the groove off; or walk it, and ovalwright road on the laptop reads it.",
    ),
)
"""The first one that has a word of a name is meant."""
JUST_MEASURE = How((), "Measure it, or ask the builder.")
