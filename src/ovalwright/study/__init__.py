"""Questions a racer asks, answered from documents through the solvers."""
