"""Questions put to the force law: settle, trim, limit."""
