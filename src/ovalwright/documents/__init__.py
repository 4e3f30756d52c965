"""The documents a racer writes: car, setup, track, rack, rules, scale sheet."""
