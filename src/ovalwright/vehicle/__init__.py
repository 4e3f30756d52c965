"""One record of the whole car and the one force law put to it."""
