"""One choice of parts, ready to be solved, in the room of its job."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Annotated

from sweatline.air.saturation_line import SaturationLine
from sweatline.answers import Q
from sweatline.assembly.assemble import WorkingLimits, assemble, limits
from sweatline.assembly.parameters import Sample, told_with_readings, transferred_prior
from sweatline.errors import JobError
from sweatline.job.model import CapillaryStock, Compressor, Job
from sweatline.machine.balance import SteadyState, Target, design, solve
from sweatline.machine.capillary_cut import cut_for
from sweatline.machine.circuit import CELLS, MachineParameters
from sweatline.parts.capillary_flow import SHORTEST
from sweatline.refrigerant.refrigerant import Refrigerant, find, load
from sweatline.uncertainty.parameter import Key, Parameter
from sweatline.units import show


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """One choice of parts."""

    compressor: str
    refrigerant: str
    capillary: str
    capillary_bore: Annotated[float, Q("bore")]
    capillary_length: Annotated[float, Q("length")]
    capillary_cut: bool
    """True when the length was worked out here, false when it was given."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """Parts chosen from a job and the machine they make.

    Parameters
    ----------
    length : float
        Of the capillary as fitted or cut. [m]
    cut : bool
        The length was chosen here, not given.
    machine, line
        What a solver takes, at the best values.
    parameters : tuple of Parameter
        Everything uncertain about the machine and its limits, in the order of all samples.
    designed : SteadyState, optional
        The balance that the capillary was cut for.
    """

    job: Job
    compressor: Compressor
    refrigerant: Refrigerant
    capillary: CapillaryStock
    length: float
    cut: bool
    machine: MachineParameters
    line: SaturationLine
    parameters: tuple[Parameter, ...] = field(repr=False)
    designed: SteadyState | None = field(default=None, repr=False)

    @property
    def name(self) -> str:
        """Compressor, refrigerant and capillary, in words."""
        return f"{self.compressor.name} + {self.refrigerant.name} + {self.capillary.name}"

    @property
    def parts(self) -> Parts:
        """What an answer tells of the choice."""
        return Parts(
            compressor=self.compressor.name,
            refrigerant=self.refrigerant.name,
            capillary=self.capillary.name,
            capillary_bore=self.capillary.bore.value,
            capillary_length=self.length,
            capillary_cut=self.cut,
        )

    def solve(
        self,
        target: Target,
        *,
        near: SteadyState | None = None,
        profiles: bool = False,
        farther: bool = True,
    ) -> SteadyState:
        """Steady state of this machine; see :func:`sweatline.machine.balance.solve`."""
        return solve(
            self.refrigerant.table,
            self.line,
            self.machine,
            target,
            near=near,
            profiles=profiles,
            farther=farther,
        )

    def by_key(self, z: Iterable[float]) -> dict[Key, float]:
        """A sample in the order of the parameters, by their keys. [standard deviations]"""
        return {p.key: float(v) for p, v in zip(self.parameters, z, strict=True)}

    def moved(self, z: Mapping[Key, float]) -> tuple[MachineParameters, SaturationLine]:
        """The machine with its parameters moved by `z` standard deviations."""
        return assemble(
            self.job,
            self.compressor,
            self.refrigerant,
            self.capillary,
            length=self.length,
            sample=Sample(z=z),
            cells=self.machine.evaporator.cells,
        )

    def limits(self, z: Mapping[Key, float] | None = None) -> WorkingLimits:
        """What this machine is compared with, moved by `z` standard deviations."""
        known = (self.job, self.compressor, self.refrigerant.name, self.capillary)
        sample = Sample(z=z if z is not None else {}).about(transferred_prior(*known))
        return limits(self.job, self.compressor, sample)


def pick(kind: str, wanted: str | None, options: tuple[str, ...]) -> int:
    """Index of the option a person named, by name, by beginning, or by number from one.

    Raises
    ------
    JobError
        Nothing or several fit; the sentence lists what there is.
    """
    listed = ", ".join(f"{i + 1} {name}" for i, name in enumerate(options))
    several = f"{kind[:-1]}ies" if kind.endswith("y") else f"{kind}s"
    if wanted is None:
        if len(options) == 1:
            return 0
        raise JobError(
            what=f"several {several} are on the bench and none was named",
            allowed=f"choose one of: {listed}",
            field=kind,
        )
    text = wanted.strip().casefold()
    plain = [o.casefold() for o in options]
    if text in plain:
        return plain.index(text)
    if text.isdigit() and 1 <= int(text) <= len(options):
        return int(text) - 1
    near = [i for i, name in enumerate(plain) if name.startswith(text)]
    near = near or [i for i, name in enumerate(plain) if text in name]
    if len(near) == 1:
        return near[0]
    raise JobError(
        what=f"several {several} fit that name" if near else f"no {kind} of that name",
        allowed=f"choose one of: {listed}",
        read=wanted,
        field=kind,
    )


def choose(
    job: Job,
    *,
    compressor: str | None = None,
    refrigerant: str | None = None,
    capillary: str | None = None,
) -> tuple[int, str, int]:
    """Turn names a person typed into a choice of parts.

    Names may be shortened or given as numbers from one. A refrigerant may also be one that the
    job does not list.

    Raises
    ------
    JobError
        A name fits nothing or several things.
    """
    i = pick("compressor", compressor, tuple(c.name for c in job.compressors))
    j = pick("capillary", capillary, tuple(c.name for c in job.capillaries))
    if refrigerant is None:
        name = job.refrigerants[pick("refrigerant", None, job.refrigerants)]
    elif refrigerant.isdigit() and 1 <= int(refrigerant) <= len(job.refrigerants):
        name = job.refrigerants[int(refrigerant) - 1]
    else:
        name = find(refrigerant)
    return i, name, j


def choose_compressor(job: Job, name: str | None) -> Compressor:
    """Compressor of a job by what a person typed; the only one when nothing was.

    Raises
    ------
    JobError
        The name fits nothing or several things.
    """
    return job.compressors[pick("compressor", name, tuple(c.name for c in job.compressors))]


def build_for(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    cells: int = CELLS,
) -> Build:
    """Machine made of one choice of parts.

    Parameters
    ----------
    compressor, capillary : int
        Positions in the job.
    refrigerant : str
        Name of any refrigerant in the tables.
    length : float, optional
        Of the capillary. [m] When it is not given, a fitted tube keeps its own; stock is cut to
        the length that the design balance asks for.
    """
    fluid = load(refrigerant)
    stock = job.capillaries[capillary]
    comp = job.compressors[compressor]
    sample = Sample()
    own = stock.length.value if stock.fitted and stock.length is not None else None
    chosen = length if length is not None else own
    machine, line = assemble(job, comp, fluid, stock, length=chosen, sample=sample, cells=cells)
    cut = False
    balance: SteadyState | None = None
    if chosen is None:
        aim = design(superheat=job.targets.superheat, subcooling=job.targets.subcooling)
        balance = solve(fluid.table, line, machine, aim)
        bore = stock.bore
        found = cut_for(
            fluid.table,
            balance,
            bore=bore.value,
            bore_sd=bore.sd,
            roughness=stock.roughness.value,
        )
        if found.length is None:
            width = show(bore.value, "bore", job.unit_system)
            least = show(SHORTEST, "length", job.unit_system, digits=2)
            raise JobError(
                what=f"a bore of {width} cannot pass the flow at a length of {least} or more",
                allowed="use a wider bore",
                field="capillary",
                read=stock.name,
            )
        chosen = found.length
        cut = True
        machine, _line = assemble(
            job, comp, fluid, stock, length=chosen, sample=sample, cells=cells
        )
    limits(job, comp, sample)
    return Build(
        job=job,
        compressor=comp,
        refrigerant=fluid,
        capillary=stock,
        length=chosen,
        cut=cut,
        machine=machine,
        line=line,
        parameters=told_with_readings(
            sample.seen.values(), transferred_prior(job, comp, fluid.name, stock)
        ),
        designed=balance,
    )
