"""Which length of which capillary? Every bore on the shelf for one compressor and refrigerant."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Annotated

from sweatline.answers import Answer, Hidden, Q, Range, Shown, range_of, ranges_of
from sweatline.answers.range import FEWEST
from sweatline.assembly.assemble import tube
from sweatline.assembly.build import Build, build_for
from sweatline.assembly.parameters import Sample, transferred_prior
from sweatline.assembly.trial_runs import Trial, solved_of, trials
from sweatline.design.balance import JobHead
from sweatline.job.model import CapillaryStock, Job
from sweatline.machine.balance import SteadyState, design
from sweatline.machine.capillary_cut import Cut, cut_for
from sweatline.parts.capillary_flow import length_for
from sweatline.uncertainty.parameter import Parameter


@dataclass(frozen=True, slots=True, kw_only=True)
class StockCut(Answer):
    """One tube on the shelf and how to cut it."""

    stock: str
    fitted: bool
    on_the_shelf: Annotated[float | None, Q("length", "", "Null when nobody wrote it.")]
    cut: Cut

    @property
    def enough(self) -> Annotated[bool | None, Shown()]:
        """The shelf holds the length to cut first; null when its length is not known."""
        if self.on_the_shelf is None or self.cut.start_length is None:
            return None
        return self.on_the_shelf >= self.cut.start_length


@dataclass(frozen=True, slots=True, kw_only=True)
class MeteringAnswer(Answer, JobHead):
    """`sweatline metering --json`: capillary length for every bore."""

    build: Annotated[Build, Hidden()] = field(repr=False)
    steady: SteadyState
    """The design balance the lengths are for."""
    bands: Mapping[str, Range]
    """Likely ranges (9 in 10) of that balance; keys as in `steady`."""
    draws: int
    """Trial runs; 0: the ranges of the lengths are those of the tube alone."""
    cuts: tuple[StockCut, ...]

    @property
    def compressor(self) -> Annotated[str, Shown()]:
        """Its name in the job."""
        return self.build.compressor.name

    @property
    def refrigerant(self) -> Annotated[str, Shown()]:
        """Such as R-290."""
        return self.build.refrigerant.name


def metering(job: Job, *, compressor: int, refrigerant: str, draws: int = 64) -> MeteringAnswer:
    """Capillary length for every bore, with superheat and subcooling at the job's targets.

    The range of a length is that of the flow and pressures the machine will want and that of the
    tube, sampled together. Without trial runs it is that of the tube alone.
    """
    build = build_for(job, compressor=compressor, refrigerant=refrigerant, capillary=0, length=1.0)
    aim = design(superheat=job.targets.superheat, subcooling=job.targets.subcooling)
    found = build.solve(aim)
    build = replace(build, parameters=(*build.parameters, *_other_tubes(build)))
    runs = trials(build, found, aim, count=draws) if draws else []
    solved = solved_of(runs)
    bands = ranges_of(solved)
    if bands:  # what a capillary is cut for, beside what is shown of a machine
        bands["liquid_pressure_Pa"] = range_of([b.liquid_pressure for b in solved])
        bands["evaporating_pressure_Pa"] = range_of([b.evaporating_pressure for b in solved])
    return MeteringAnswer(
        build=build,
        steady=found,
        bands=bands,
        draws=len(runs),
        cuts=tuple(_stock_cut(build, found, stock, runs) for stock in job.capillaries),
    )


def _stock_cut(
    build: Build, found: SteadyState, stock: CapillaryStock, runs: Sequence[Trial]
) -> StockCut:
    cut = cut_for(
        build.refrigerant.table,
        found,
        bore=stock.bore.value,
        bore_sd=stock.bore.sd,
        roughness=stock.roughness.value,
    )
    if len(runs) >= FEWEST and cut.length is not None:
        known = range_of([*_log_lengths(build, stock, runs)])
        cut = replace(cut, start_length=math.exp(known.high), shortest=math.exp(known.low))
    return StockCut(
        stock=stock.name,
        fitted=stock.fitted,
        on_the_shelf=stock.length.value if stock.length is not None else None,
        cut=cut,
    )


def _other_tubes(build: Build) -> list[Parameter]:
    """Parameters of the capillaries that are not in the build."""
    sample = Sample()
    for stock in build.job.capillaries:
        tube(stock, None, sample)
    known = {p.key for p in build.parameters}
    return [p for p in sample.seen.values() if p.key not in known]


def _log_lengths(build: Build, stock: CapillaryStock, runs: Sequence[Trial]) -> Iterator[float]:
    """Logarithm of the length that every trial run asks of one stock; 1 mm where none serves."""
    prior = transferred_prior(build.job, build.compressor, build.refrigerant.name, stock)
    for t in runs:
        if t.balance is None:
            continue
        drawn = tube(stock, None, Sample(z=build.by_key(t.z)).about(prior))
        length = length_for(
            build.refrigerant.table,
            bore=drawn.bore,
            mass_flow=t.balance.flow,
            inlet_pressure=t.balance.liquid_pressure,
            inlet_enthalpy=t.balance.metering_enthalpy,
            outlet_pressure=t.balance.evaporating_pressure,
            roughness=drawn.roughness,
            flow_multiplier=drawn.flow_multiplier,
        ).length
        yield math.log(max(length, 1e-3))
