"""A hose and a small can as a person writes them, behind an option or in a log."""

from __future__ import annotations

from sweatline.errors import JobError
from sweatline.parts.hose import BORE_SD, Can, Hose
from sweatline.units import parse, quantity, split_fields

_STATES = ("liquid", "gas", "mixed", "pulled back")


def written_hose(text: str, where: str, temperature: float, atmosphere: float) -> Hose:
    """A hose as "4.8 mm, 0.9 m, pulled back, 2 bar(g)".

    Raises
    ------
    JobError
        A field that is missing or cannot be; `where` is named.
    """

    fields = split_fields(text, where, ("bore", "length", "state"), ("pressure",))
    state = " ".join(fields["state"].lower().split())
    if state not in _STATES:
        raise JobError(
            what="a hose is left in one of four states",
            read=fields["state"],
            allowed=", ".join(_STATES),
            field=where,
        )
    if state in ("gas", "pulled back") and "pressure" not in fields:
        raise JobError(
            what=f"how much gas a hose holds depends on its pressure (state {state})",
            read=text,
            allowed='add it as a fourth field, as "2 bar(g)"',
            field=where,
        )
    bore = quantity(fields["bore"], "bore", where, low=0.5e-3, high=0.05)
    sd = parse(fields["bore"], "bore").sd
    return Hose(
        bore=bore,
        length=quantity(fields["length"], "length", where, low=1e-3, high=100.0),
        state=state,  # type: ignore[arg-type]
        temperature=temperature,
        pressure=quantity(fields["pressure"], "pressure", where, atmosphere=atmosphere)
        if "pressure" in fields
        else None,
        bore_sd=sd if sd is not None else BORE_SD,
    )


def written_can(text: str, where: str, atmosphere: float) -> Can:
    """A small can nobody weighed, as "340 g, 0.4 L, 2 bar(g)": label, volume, last pressure.

    Raises
    ------
    JobError
        A field that is missing or cannot be; `where` is named.
    """

    fields = split_fields(text, where, ("net", "volume", "pressure"))
    return Can(
        net=quantity(fields["net"], "mass", where, low=1e-3, high=20.0),
        volume=quantity(fields["volume"], "volume", where, low=1e-5, high=0.1),
        pressure=quantity(fields["pressure"], "pressure", where, atmosphere=atmosphere),
    )
