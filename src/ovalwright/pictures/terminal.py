"""The car from above in a terminal, with the four loads as bars that the eye can compare."""

from __future__ import annotations

from collections.abc import Sequence

BAR = 21
"""Columns of the longest bar; the drawing is then 78 wide."""
_BODY = (" .----. ", " |    | ", " |    | ", " |    | ", " '----' ")
_TIRE = ("[]", "[]")


def car_with_loads(
    loads: Sequence[float], words: Sequence[str], *, most: float = 0.0, fill: str = "#"
) -> list[str]:
    """Lines of a car seen from above, nose up, with a bar per corner as long as its load.

    loads: LF RF LR RR in any one unit; words: what stands at each bar, 14 characters at the most; most: the
    load of the longest bar, the greatest of the four when it is larger.
    """
    scale = max(most, *loads, 1e-9)
    bars = [fill * round(BAR * max(load, 0.0) / scale) for load in loads]
    lines = [" " * 36 + "  nose  "]
    for number, body in enumerate(_BODY):
        axle = {1: 0, 3: 2}.get(number)
        if axle is None:
            lines.append(" " * 36 + body)
            continue
        left = f"{words[axle]:>13} {bars[axle]:>{BAR}}{_TIRE[0]}"[-36:]
        right = f"{_TIRE[1]}{bars[axle + 1]:<{BAR}} {words[axle + 1]}"
        lines.append(f"{left:>36}{body}{right}".rstrip())
    return lines
