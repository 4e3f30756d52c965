"""Things to measure as a racer is told of them: what it is, how it is taken, where it is written."""

from __future__ import annotations

from dataclasses import dataclass

from pydantic import BaseModel

from ovalwright.documents import Car, Setup, Track
from ovalwright.documents.mistakes import model_in
from ovalwright.documents.sheet import Sheet
from ovalwright.web.troubles import sentence

MODELS: dict[str, type[BaseModel]] = {"car": Car, "setup": Setup, "sheet": Sheet, "track": Track}
PICK_UP = "Tape and plumb bob: forward of the front axle, left of the centerline, up from the ground."
PER_INCH = "Take the coil out, raise the wheel an inch from ride height and read what the other has moved."
LIFTED = (
    "Weigh it level, then with one axle lifted 20 in, shocks blocked solid and tires at racing pressure; "
    "ovalwright lift on the laptop works the height out of the two."
)
HOW = (
    (
        "lap time",
        "Take a clean lap on a day like the one ahead, by a clock you trust; type it on Lap and run.",
    ),
    ("corner weights", "Roll it off the pads and on again, and read all four once more."),
    ("sprung.height", LIFTED),
    ("whole_car_height", LIFTED),
    ("unsprung.height", "Measure the middle of the wheels above the ground, tires at racing pressure."),
    (
        "unsprung.axle_left",
        "Weigh the bare axle with a pad under each wheel: the heavier side tells.",
    ),
    ("unsprung", "Weigh it bare with its wheel, brake and half of the links."),
    ("growth", "Roll every tire out at two pressures on one day."),
    ("tire.hot", "Read the pressures the moment the car comes in."),
    ("tire.cold", "Set the pressures with one gauge, in the shade, before the first run."),
    ("roll_out", "Roll every tire out on the shop floor at the pressure it runs."),
    ("tire.rate", "Read the height of the wheel at two loads on the pads, at one pressure."),
    ("sheet.fuel", "Run the cell dry, then fill it from a marked can."),
    ("capacity", "Run the cell dry, then fill it from a marked can until it is full."),
    (
        "axle_left",
        "Plumb the middle of the axle and that of the frame to the floor; measure between.",
    ),
    (
        "coil_base",
        "Measure across the car between the rear coils where they sit on the axle.",
    ),
    (
        "rear.short.roll_center_height",
        "Measure both ends of the panhard bar above ground: half way.",
    ),
    (
        "roll_center",
        "Measure the pivots and ball joints of both sides instead, which tell it.",
    ),
    ("coil_ratio", PER_INCH),
    ("bar_ratio", PER_INCH),
    ("camber_gain", "Take the coil out, raise the wheel an inch and read the camber gauge before and after."),
    ("bump_steer", "Take the coil out, raise the wheel an inch and read the toe before and after."),
    ("camber", "Read the camber gauge on the pads, driver in, at the pressures of the sheet."),
    ("caster", "Swing the wheel 20 degrees out and in and read the caster gauge."),
    ("bar.arm", "Measure from the middle of the bar square across to the hole of the link."),
    ("points", PICK_UP),
    ("rate", "Put it on a spring rater, over the travel it works in."),
    ("height", "Read it on the pads with the driver in, tires at the pressures of the sheet."),
    ("bank", "Lay a level across the groove and measure the rise over its length."),
    (
        "radius",
        "Step the groove off; or walk it, and ovalwright road on the laptop reads it.",
    ),
)
"""How a measurement is taken, by what stands in its name (common practice, no source)."""
JUST_MEASURE = "Measure it, and say so beside it."


@dataclass(frozen=True)
class ToMeasure:
    """A thing in words: what it is, how it is taken, and where it is written, nothing where it is no key."""

    what: str
    how: str
    where: str


def to_measure(name: str) -> ToMeasure:
    """A thing to measure by its path, such as `car.sprung.height`, or by its words."""
    document, _, key = name.partition(".")
    how = next((how for part, how in HOW if part in name), JUST_MEASURE)
    if document not in MODELS or not key:
        return ToMeasure(sentence(name)[:-1], how, "")
    said = key.replace("each.", "").replace("short.", "").replace("_", " ").replace(".", " ")
    about = about_key(MODELS[document], tuple(key.replace("each", "LF").split(".")))
    return ToMeasure(
        sentence(f"{said}, {about}" if about else said)[:-1], how, f"{key} in the file of the {document}"
    )


def about_key(model: type[BaseModel], path: tuple[object, ...]) -> str:
    """What a key of a document is, as its model describes it; nothing where it does not."""
    about, part = "", model
    for name in path:
        field = part.model_fields.get(str(name)) if part is not None else None
        if field is None:
            continue
        about, inner = field.description or "", model_in(field.annotation)
        if inner is None:
            return about
        part = inner
    return about
