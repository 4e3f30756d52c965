"""What is said, once and at the place, where work on a car can hurt someone."""

from __future__ import annotations

STANDS = "Car on stands, on level floor, wheels chocked, before anyone goes under or reaches in."
COILS = "A loaded coil or bump spring is let down with the right tool; nobody stands in its line."
LEAD = "Lead is bolted, marked and safety-wired as the rule book asks; a loose piece is a projectile."
WHEELS = "Wheel fasteners to the torque their maker gives, by hand, and again after the first laps."
MOVING = "Nobody touches a moving car; nobody reaches under one that is held by a jack."
FUEL = "No flame or spark near fuel, an extinguisher in reach; exhaust, brakes and water are hot."
BOOK = "The rule book and the chassis builder come first, before anything written here."
CLEARANCE = "A prediction is no clearance to drive: look the car over, then try it slowly."
AIR = "Let nobody stand over a tire that takes air, and keep to the pressure its maker allows."
PEDAL = "Pump the pedal until it is firm before the car moves."
DATES = "How long it is good is said by the tag on it, its maker and the rule book."
