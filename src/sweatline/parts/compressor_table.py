r"""A compressor known by points of its data sheet, and by its displacement if that is known.

The model of :mod:`sweatline.parts.compressor` is fitted to the points once, by least squares of
logarithmic deviations, with what is usual of such a machine as the prior. One point and nothing
else is met exactly and leaves the prior as it is; a point and the displacement fix how well the
cylinder fills; more points fix clearance and losses as well.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

from sweatline.parts.compressor import (
    BEST_PROPORTIONAL,
    CompressorParameters,
    Kind,
    KindDefaults,
    RatingCondition,
    displacement_from_rating,
    operate,
)
from sweatline.refrigerant.table import Table

# Deviations that weigh one standard deviation. Points: the volumetric form meets whole maps to 1.0
# to 5.5 %, in the median 3. Filling: print gives 8 %. Share of the fixed loss: fits of published
# maps and tables find 0.05 to 0.30.
_SCATTER: Final = 0.03
FILLING_SD: Final = 0.08
_SHARE_SD: Final = 0.10
_VALVES_SD: Final = 1.0  # of the usual valve loss


class RatedPoint(NamedTuple):
    """One point of a data sheet."""

    condition: RatingCondition
    capacity: float  # W
    power: float | None  # W
    mass_flow: float | None  # kg/s


class FittedTable(NamedTuple):
    """A compressor fitted to the points of its data sheet."""

    parameters: CompressorParameters
    clearance_sd: float
    capacity_miss: float  # root mean square relative deviation over the points
    watts_miss: float | None
    throughput_miss: float | None


def parameters_from_points(
    table: Table,
    kind: Kind,
    points: Sequence[RatedPoint],
    *,
    usual: KindDefaults,
    frequency: float,
    displacement: float | None = None,
) -> FittedTable:
    """Parameters that meet points of a data sheet as well as the model can.

    Parameters
    ----------
    points : sequence of RatedPoint
        (n,), one or more, all with the refrigerant of the table.
    usual : KindDefaults
        What is known of such a machine before its points are.
    frequency : float
        Of the mains at which the points were taken. [Hz]
    displacement : float, optional
        Per revolution, when it is known; then the filling follows from the points. [m3]
    """
    import numpy as np
    from scipy.optimize import least_squares

    first = points[len(points) // 2]
    base = displacement_from_rating(
        table,
        kind,
        capacity=first.capacity,
        frequency=frequency,
        condition=first.condition,
        power=first.power,
        usual=usual,
    )
    has_power = any(p.power is not None for p in points)
    watts = first.power
    if watts is None:
        watts = operate(table, base, **first.condition._asdict()).power
    if displacement is not None:
        base = base._replace(displacement=displacement)

    # Smooth up to the best there is, so that a very good machine is fitted like the others.
    steep = math.atanh(min(base.proportional / BEST_PROPORTIONAL, 0.99))

    def build(x: Sequence[float]) -> CompressorParameters:
        size = math.exp(x[0])
        found = base._replace(clearance=max(float(x[1]), 0.002))
        if displacement is None:
            found = found._replace(displacement=base.displacement * size)
        else:
            found = found._replace(filling=base.filling * size)
        if has_power:
            found = found._replace(
                fixed_loss=abs(float(x[2])) * watts,
                valve_loss=usual.valve_loss * abs(float(x[3])),
                proportional=BEST_PROPORTIONAL * math.tanh(steep * math.exp(x[4])),
            )
        return found

    def misses(numbers: CompressorParameters) -> tuple[list[float], list[float], list[float]]:
        capacity, power, flow = [], [], []
        for point in points:
            run = operate(table, numbers, **point.condition._asdict())
            capacity.append(math.log(run.capacity / point.capacity))
            if point.power is not None:
                power.append(math.log(run.power / point.power))
            if point.mass_flow is not None:
                flow.append(math.log(run.mass_flow / point.mass_flow))
        return capacity, power, flow

    def deviations(x: Sequence[float]) -> list[float]:
        pulls = [(x[1] - usual.clearance) / usual.clearance_sd]
        if displacement is not None:
            pulls.append(x[0] / FILLING_SD)
        if has_power:
            pulls.append((x[2] - usual.fixed_share) / _SHARE_SD)
            pulls.append((x[3] - 1.0) / _VALVES_SD)
        return [d / _SCATTER for each in misses(build(x)) for d in each] + pulls

    start = [0.0, usual.clearance]
    if has_power:
        start += [base.fixed_loss / watts, base.valve_loss / usual.valve_loss, 0.0]
    scale = [0.1, 0.01, 0.1, 0.5, 0.1][: len(start)]
    fit = least_squares(deviations, start, x_scale=scale)
    numbers = build(fit.x)
    if len(points) == 1:
        # The one point a person typed is met; only what lies beside it is the model's.
        which = "filling" if displacement is not None else "displacement"
        for _ in range(8):
            run = operate(table, numbers, **first.condition._asdict())
            size = getattr(numbers, which) * first.capacity / run.capacity
            numbers = numbers._replace(**{which: size})
            if first.power is not None:
                lack = first.power / run.power
                numbers = numbers._replace(
                    fixed_loss=numbers.fixed_loss * lack,
                    proportional=numbers.proportional * first.capacity / run.capacity / lack,
                )
    information = fit.jac.T @ fit.jac
    variance = float(np.linalg.inv(information)[1, 1])

    def spread(each: list[float]) -> float | None:
        return float(np.sqrt(np.mean(np.square(each)))) if each else None

    capacity, power, flow = misses(numbers)
    return FittedTable(
        parameters=numbers,
        clearance_sd=math.sqrt(max(variance, 0.0)),
        capacity_miss=spread(capacity) or 0.0,
        watts_miss=spread(power),
        throughput_miss=spread(flow),
    )
