"""One file per page: its context as frozen dataclasses, and the functions that answer its routes."""
