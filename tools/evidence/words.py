"""Numbers and sentences of the evidence page."""

import math
from collections.abc import Sequence

from tools.evidence.values import PLAIN, Record, Value, worst


def number(value: float, digits: int = 5) -> str:
    """A number as the page prints it: few enough digits to be the same on every machine."""
    return f"{value:.{digits}g}"


def width(value: float, kind: str, unit: str, sign: bool = False) -> str:
    """A deviation or tolerance: in percent, or in the unit of the quantity."""
    form = "+.2g" if sign else ".3g"
    if abs(100.0 * value if kind == "relative" else value) >= (99.5 if sign else 999.5):
        form = "+.0f" if sign else ".0f"
    if kind == "relative":
        percent = 100.0 * value
        if sign and abs(percent) < 0.001:
            return "0 %"
        return f"{percent:{form}} %"
    if sign and abs(value) < 1e-9:
        value = 0.0
    return f"{value:{form}} {unit}".strip()


def with_unit(value: float, unit: str, digits: int = 5) -> str:
    """A value and its unit."""
    return f"{number(value, digits)} {unit}".strip()


def deviation(value: Value) -> str:
    """How far off ours is."""
    return width(value.deviation, value.kind, value.unit, sign=True)


def tolerance(value: Value) -> str:
    """How far off it may be."""
    return width(value.tolerance, value.kind, value.unit)


def verdict(value: Value) -> str:
    """Met or not, and whether only an aim."""
    return ("met" if value.met else "not met") + (" (aim)" if value.aim_only else "")


def capital(text: str) -> str:
    """The text as the beginning of a sentence."""
    return text[:1].upper() + text[1:]


def allowed(values: Sequence[Value]) -> str:
    """What is allowed, from least to most, if it can be said in one unit."""
    low = min(v.tolerance for v in values)
    high = max(v.tolerance for v in values)
    if len({(v.kind, v.kind == "absolute" and v.unit) for v in values}) > 1:
        return "what is allowed for each"
    kind, unit = values[0].kind, values[0].unit
    first, last = width(low, kind, unit), width(high, kind, unit)
    if first == last:
        return last
    scale = 100.0 if kind == "relative" else 1.0
    return f"{scale * low:.3g} to {last}"


def plain(model: str) -> str:
    """What a model is, for somebody who does not know its author."""
    return capital(PLAIN.get(model, model))


def met(values: Sequence[Value]) -> str:
    """How many values lie within their tolerances."""
    return f"{sum(v.met for v in values)} of {len(values)}"


def fitted(values: Sequence[Value]) -> str:
    """Whether values helped to choose numbers of ours, or were predicted without them."""
    own = sum(v.in_sample for v in values)
    if own == 0:
        return "predicted"
    return "fitted" if own == len(values) else f"fitted to {own} of them"


def farthest_off(values: Sequence[Value]) -> str:
    """The worst of some values: printed, ours, and what is allowed if it misses."""
    far = worst(values)
    if far.printed == 0.0:
        return f"{far.quantity}: {with_unit(far.ours, far.unit, 2)}, {tolerance(far)} allowed"
    named = (
        f"{far.quantity}: {with_unit(far.printed, far.unit, 4)} printed, "
        f"{number(far.ours, 4)} ours, {deviation(far)}"
    )
    return named if far.met else f"{named}, {tolerance(far)} allowed"


def sentence(values: Sequence[Value]) -> str:
    """One plain sentence on values of one model, the worst of them named."""
    count = len(values)
    if count == 1:
        opening = f"the one value is {'met' if values[0].met else 'not met'}:"
    else:
        opening = f"{met(values)} values within {allowed(values)}; worst:"
    own = sum(v.in_sample for v in values)
    caution = ""
    if own == count:
        caution = f" Ours was fitted to {'it' if count == 1 else 'these values'}."
    elif own:
        caution = f" Ours was fitted to {own} of them."
    return f"{plain(values[0].model)}: {opening} {farthest_off(values)}.{caution}"


def total(record: Record) -> str:
    """The sentences on all values."""
    values = record.values
    count = sum(v.met for v in values)
    unseen = [v for v in values if not v.in_sample]
    hardware = [v for v in values if v.basis in ("measured", "fitted", "similar")]
    return (
        f"{len(values)} values from measurement, print and practice, for {len(record.models)} "
        f"models. {count} of them ({percent(count, len(values))}) lie within their tolerance; of "
        f"the {len(hardware)} that rest on measurements, {sum(v.met for v in hardware)} do. "
        f"{len(values) - len(unseen)} helped to choose numbers of ours (fitted): they show how "
        f"well a form fits, not how well it predicts. The other {len(unseen)} were predicted, and "
        f"{sum(v.met for v in unseen)} of them are met."
    )


def percent(part: int, whole: int) -> str:
    """A share, never rounded up to all."""
    if whole == 0:
        return "none"
    return f"{math.floor(100.0 * part / whole)} %"
