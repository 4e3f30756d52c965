"""Leaf springs as drawn: eyes on the frame, a pack of leaves on the pad under the axle, the shackle behind.

Axle, frame and where the springs stand on the axle are the solver's, which computes an equivalent four-link:
the front eye lies where its trailing arm meets the frame. The rear half of the leaf and its thickness are
drawn plainly.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from ovalwright.pictures.car_shape import LEAF_NAMES, CarShape, Coil
from ovalwright.pictures.svg import Point, Sheet
from ovalwright.units import INCH

Array = npt.NDArray[np.float64]
Eye = Callable[[Array], Point]
WIDE, LEAF, LEAVES = 2.5 * INCH, 0.014, 3
"""Width of a leaf, thickness of one as drawn [m], and how many are drawn."""
TUBE = 0.038
"""Half the thickness of the axle tube as drawn [m]."""
SHORTER = (0.45, 0.72)
"""Where the shorter leaves of the pack end, as shares of the way from pad to eye."""
U_BOLT = 0.055
"""Half the length of the pad between its two U-bolts as drawn [m]."""


def springs_from_behind(sheet: Sheet, eye: Eye, shape: CarShape) -> None:
    """Both springs seen along the car: the pack under the tube, the main leaf up to its eye, the shackle."""
    left, right = shape.parts["wheel"][2:]
    across = (left - right) / np.linalg.norm(left - right)
    upward = np.array([0.0, -across[2], across[1]])
    half = 0.5 * WIDE * across
    for name, coil in _springs(shape):
        _, rear, hanger = shape.fixed[name]
        pad = _pad(shape, coil) - TUBE * upward
        kind = _weight(coil)
        for way in (1.0, -1.0):
            sheet.line("rod", [eye(rear + way * half), eye(hanger + way * half)])
        for place in (rear, hanger):
            sheet.line(kind, [eye(place + 1.2 * half), eye(place - 1.2 * half)])
        for k in range(LEAVES):
            at = pad - (k + 0.5) * LEAF * upward
            sheet.line(kind, [eye(at + half), eye(at - half)])
        plate = pad - (LEAVES + 0.7) * LEAF * upward
        sheet.line("seat", [eye(plate + 1.5 * half), eye(plate - 1.5 * half)])
        if coil.state == "hanging":
            x, y = eye(hanger)
            sheet.text("word halo mid", (x, y - 6.0), f"{coil.name} leaf slack")


def springs_from_above(sheet: Sheet, at: Eye, shape: CarShape) -> None:
    """Both springs along the frame from eye to eye, on their pads, with where the shorter leaves end."""
    half = np.array([0.0, 0.5 * WIDE, 0.0])
    for name, coil in _springs(shape):
        front, rear, _ = shape.fixed[name]
        pad = _pad(shape, coil)
        outline = [front + half, pad + half, rear + half, rear - half, pad - half, front - half]
        sheet.line(_weight(coil), [at(corner) for corner in outline], closed=True)
        for end in (front, rear):
            for share in SHORTER:
                place = pad + share * (end - pad)
                sheet.line("rod", [at(place + half), at(place - half)])
            sheet.circle("joint", at(end), 3.0)
        for way in (1.0, -1.0):
            bolt = pad + np.array([way * U_BOLT, 0.0, 0.0])
            sheet.line("seat", [at(bolt + 1.4 * half), at(bolt - 1.4 * half)])


def _springs(shape: CarShape) -> list[tuple[str, Coil]]:
    """Name and spring, left and right."""
    return list(zip(LEAF_NAMES, shape.coils[2:], strict=True))


def _pad(shape: CarShape, coil: Coil) -> Array:
    """The middle of the axle tube over a spring."""
    left, right = shape.parts["wheel"][2:]
    along = (right - left) / np.linalg.norm(right - left)
    return np.asarray(left + np.dot(coil.low - left, along) * along)


def _weight(coil: Coil) -> str:
    """Fine where it carries nothing."""
    return "leaf fine" if coil.state == "hanging" else "leaf"
