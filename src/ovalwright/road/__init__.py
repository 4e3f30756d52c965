"""The road: a banked ribbon closed on itself, and the lines driven on it. Knows nothing of documents."""
