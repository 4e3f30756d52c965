"""A car that cannot be driven close to its limit still gets round, and says so."""

from __future__ import annotations

from dataclasses import replace
from importlib import resources

import pytest

from ovalwright.documents import Conditions, assemble, load_track
from ovalwright.pack import build, with_fuel
from ovalwright.pack.grooves import groove_line
from ovalwright.pack.track import ribbon_of
from ovalwright.study.held_back import held_back
from ovalwright.study.lap import DRIVER, Driver, Lap, NoLap, lap
from ovalwright.study.run import NoFuel


def getting_round_up_to(use: float, trouble: type[NoLap] = NoLap):
    def drive(driver: Driver) -> float:
        if driver.use > use:
            raise trouble(f"no steady state at {driver.use:.3f}.")
        return driver.use

    return drive


def test_a_driver_who_gets_round_is_not_held_back():
    assert held_back(getting_round_up_to(0.95), DRIVER) == (0.95, ())


def test_he_is_held_back_as_little_as_gets_round_and_it_is_said_against_what():
    used, notes = held_back(getting_round_up_to(0.9), DRIVER)
    assert used == pytest.approx(0.94 * DRIVER.use)
    assert notes == ("Driven with 89.3 % of the grip, not 95.0 %: with more, no steady state at 0.950.",)


def test_where_nothing_gets_round_the_first_trouble_is_told():
    with pytest.raises(NoLap, match=r"at 0\.950"):
        held_back(getting_round_up_to(0.1), DRIVER)


def test_an_empty_cell_is_not_cured_by_driving_slower():
    with pytest.raises(NoFuel, match=r"at 0\.950"):
        held_back(getting_round_up_to(0.9, NoFuel), DRIVER)


def lap_of(setup: str, track: str, gear: float, driver: Driver = DRIVER) -> Lap:
    with resources.as_file(resources.files("ovalwright") / "demo") as folder:
        car = build(assemble(folder / f"setup_{setup}.toml"), values={"setup.final_drive": gear})
        oval = load_track(folder / f"track_{track}.toml")
    return lap(with_fuel(car, share=1.0), groove_line(oval, ribbon_of(oval)), Conditions(), driver)


def test_a_left_front_that_hardly_touches_stops_no_lap():
    """A car without a coil at its right rear."""
    carried = lap_of("no_rr", "bent_five_eighths", 4.0).corners["load"][:, 0]
    assert 0.0 < carried.min() < 50.0


def test_a_left_front_that_lifts_and_comes_down_again_stops_no_lap():
    """Tires of far more grip than the car is made for."""
    found = lap_of("conventional", "flat_quarter", 6.2, replace(DRIVER, grip=1.6))
    carried = found.corners["load"][:, 0]
    assert carried.min() == 0.0 < carried.max()
    assert abs(found.corners["slip"][carried == 0.0, 0]).max() < 0.2


def test_a_frame_that_drags_on_a_steep_track_holds_its_driver_back():
    found, notes = held_back(lambda driver: lap_of("no_rr", "steep_half", 4.1, driver), DRIVER)
    assert found.time == pytest.approx(18.5, abs=1.5)
    assert 0.8 * DRIVER.use < found.driver.use < DRIVER.use
    assert len(notes) == 1 and "from the start line" in notes[0]
