"""How a device looks at the turn: where, with how much fuel, from which side, on how much paper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal
from urllib.parse import urlencode

from fastapi import Form, Query
from starlette.requests import Request

View = Literal["all", "above", "behind", "front"]
Beside = Literal["ghost", "side", "alone"]
FARTHEST, MOST_FUEL = 1e5, 1e4


@dataclass(frozen=True)
class Looking:
    """The place along the turn [ft] and the fuel [gal], None where the page may choose; which view, and how
    the other setup is shown; `narrow` on a phone, which has room for one view.
    """

    at: float | None = None
    fuel: float | None = None
    view: View = "all"
    beside: Beside = "ghost"
    narrow: bool = False

    @property
    def told(self) -> tuple[tuple[str, str], ...]:
        """As fields of a form, or of an address."""
        places = [
            (name, f"{value:g}")
            for name, value in (("at", self.at), ("fuel", self.fuel))
            if value is not None
        ]
        return (*places, ("view", self.view), ("beside", self.beside), ("narrow", str(int(self.narrow))))

    @property
    def path(self) -> str:
        """The page that is looked at so."""
        return f"/turn?{self.query}"

    @property
    def query(self) -> str:
        """The same as the end of an address."""
        return urlencode(self.told)


async def asked(
    request: Request,
    at: Annotated[float | None, Query(ge=0.0, le=FARTHEST)] = None,
    fuel: Annotated[float | None, Query(ge=0.0, le=MOST_FUEL)] = None,
    view: Annotated[View | None, Query()] = None,
    beside: Annotated[Beside, Query()] = "ghost",
    narrow: Annotated[bool | None, Query()] = None,
) -> Looking:
    """How a page is asked for."""
    return _looking(request, at, fuel, view, beside, narrow)


async def posted(
    request: Request,
    at: Annotated[float | None, Form(ge=0.0, le=FARTHEST)] = None,
    fuel: Annotated[float | None, Form(ge=0.0, le=MOST_FUEL)] = None,
    view: Annotated[View | None, Form()] = None,
    beside: Annotated[Beside, Form()] = "ghost",
    narrow: Annotated[bool | None, Form()] = None,
) -> Looking:
    """How it was looked at when something was pressed."""
    return _looking(request, at, fuel, view, beside, narrow)


def _looking(
    request: Request,
    at: float | None,
    fuel: float | None,
    view: View | None,
    beside: Beside,
    narrow: bool | None,
) -> Looking:
    is_narrow = "Mobi" in request.headers.get("user-agent", "") if narrow is None else narrow
    return Looking(at, fuel, view or ("behind" if is_narrow else "all"), beside, is_narrow)
