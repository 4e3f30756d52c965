"""Air and surface that change over a run."""

from __future__ import annotations

import math

import pytest
from evidence import DERIVED

from ovalwright.documents import Conditions
from ovalwright.pack import conditions_after, density, surface_grip, surface_grip_band

COOLING = Conditions.from_text(
    'air = "80 F"\nsurface = "110 F"\n'
    '[[later]]\nafter = "20 min"\nsurface = "100 F"\n'
    '[[later]]\nafter = "40 min"\nair = "70 F"\nsurface = "84 F"\n'
)


def fahrenheit(kelvin: float) -> float:
    return kelvin * 1.8 - 459.67


@pytest.mark.parametrize(
    ("minutes", "air", "surface"),
    [(0, 80, 110), (10, 77.5, 105), (20, 75, 100), (30, 72.5, 92), (40, 70, 84), (90, 70, 84)],
)
def test_an_evening_cools_in_straight_lines(check, minutes: float, air: float, surface: float) -> None:
    now = conditions_after(COOLING, 60.0 * minutes)
    check(
        [fahrenheit(now.air.si), fahrenheit(now.surface.si)],
        [air, surface],
        abs=1e-9,
        unit="F",
        of=f"air and surface after {minutes} min, told at 0, 20 and 40",
        source="straight lines by hand",
        kind=DERIVED,
        area="run",
    )


def test_cool_air_is_denser_and_the_rest_of_the_day_stays() -> None:
    later = conditions_after(COOLING, 2400.0)
    assert density(later) > density(COOLING)
    assert (later.barometer, later.humidity) == (COOLING.barometer, COOLING.humidity)


def test_a_surface_grips_as_it_is_written_or_as_warm_as_it_is() -> None:
    def day(**keys: str) -> Conditions:
        return Conditions.from_text("\n".join(f'{key} = "{said}"' for key, said in keys.items()))

    assert surface_grip(day()) == 1.0
    assert surface_grip(day(surface="85 F")) == pytest.approx(1.0 + 25 * 0.0008)
    assert surface_grip(day(surface="85 F", hot_slick="0 %/F")) == 1.0
    assert surface_grip(day(surface="85 F", grip="0.97")) == 0.97
    assert surface_grip(day(surface="150 F", hot_slick="10 %/F")) == pytest.approx(0.1)


def test_grip_comes_back_as_the_surface_cools_unless_it_is_told() -> None:
    assert surface_grip(conditions_after(COOLING, 1200.0)) == pytest.approx(1.0 + 10 * 0.0008)
    slick = Conditions.from_text('grip = "0.95"\n[[later]]\nafter = "20 min"\nsurface = "85 F"\n')
    assert surface_grip(conditions_after(slick, 1200.0)) == pytest.approx(0.95 * (1.0 + 25 * 0.0008))
    told = Conditions.from_text('surface = "85 F"\n[[later]]\nafter = "20 min"\ngrip = "0.98"\n')
    halfway = surface_grip(conditions_after(told, 600.0))
    assert halfway == pytest.approx(0.5 * (1.0 + 25 * 0.0008 + 0.98))


def test_a_day_that_says_nothing_of_later_does_not_change() -> None:
    day = Conditions()
    assert conditions_after(day, 3600.0) is day


def test_grip_that_is_left_out_is_less_sure_the_farther_the_surface_is_from_the_typical() -> None:
    by_its_own_heat = 0.0008 * 24.0
    assert surface_grip_band(Conditions()) == pytest.approx(math.hypot(0.06, by_its_own_heat), rel=1e-6)
    written = Conditions.from_text('grip = "1"\nsurface = "150 F"')
    hot = Conditions.from_text('surface = "150 F"')
    assert surface_grip_band(written) == written.grip.give_or_take
    assert surface_grip_band(hot) > math.hypot(0.06, 0.0012 * 40.0)
