"""Questions to the one force law: where the car settles, how it trims in a turn, where its limit lies, how
it is balanced."""
