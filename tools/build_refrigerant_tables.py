"""Build the refrigerant tables that sweatline ships, from CoolProp's equations of state.

Usage: ``python tools/build_refrigerant_tables.py [names]``; without names all are built, and
``hydrocarbons`` stands for the mixtures of propylene, propane and isobutane. Each fluid is
written to the package's table folder, and its greatest errors against the equation of state on
random states are printed together with the size of its file.

Enthalpy and entropy are shifted so that boiling liquid at 0 degrees Celsius has 200 kJ/kg and
1 kJ/(kg K), for every fluid alike.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterable
from pathlib import Path

import CoolProp
import numpy as np

from mixed_fluids import MIXTURES, HydrocarbonMixture, hydrocarbon_nodes, reference_fluid
from reference_fluids import FLUIDS, Phase, ReferenceFluid, Sample
from sweatline.refrigerant import spline
from sweatline.refrigerant import table as kernels
from sweatline.refrigerant.hydrocarbons import read_mixture, write_nodes
from sweatline.refrigerant.names import COMPONENTS
from sweatline.refrigerant.spline import TABLE_FOLDER, read_table, write_table
from sweatline.refrigerant.table import Table

FloatArray = np.ndarray

LINE_CELLS = 128
REGION_CELLS = 32
U_CELLS = 24
GLIDE_CELLS = 10
SAMPLES_PER_CELL = 3
SCALE_REDUCED_PRESSURE = 1.04
STRETCH = {"liquid": 0.2, "vapour": 0.35}


def basis(position: FloatArray, cells: int) -> FloatArray:
    """Matrix of uniform cubic B-splines at positions counted in cells; (n, cells + 3)."""
    i = np.minimum(position.astype(int), cells - 1)
    f = position - i
    g = 1.0 - f
    weights = (g**3, 3 * f**3 - 6 * f**2 + 4, -3 * f**3 + 3 * f**2 + 3 * f + 1, f**3)
    out = np.zeros((position.size, cells + 3))
    rows = np.arange(position.size)
    for k, weight in enumerate(weights):
        out[rows, i + k] = weight / 6.0
    return out


def sample_positions(cells: int) -> FloatArray:
    """Points at which a spline of so many cells is fitted, both ends included."""
    inner = (np.arange(SAMPLES_PER_CELL) + 0.5) / SAMPLES_PER_CELL
    return np.concatenate([[0.0], (np.arange(cells)[:, None] + inner).ravel(), [float(cells)]])


def anchored(cells: int, *, both: bool) -> FloatArray:
    """Map of free coefficients to those of a spline that is zero at its start (and end)."""
    n = cells + 3
    columns = list(range(1, n - 1 if both else n))
    out = np.zeros((n, len(columns)))
    for k, j in enumerate(columns):
        out[j, k] = 1.0
    out[0, 0], out[0, 1] = -4.0, -1.0
    if both:
        out[-1, -1], out[-1, -2] = -4.0, -1.0
    return out


def fit_surface(values: FloatArray, bx: FloatArray, bz: FloatArray, free: FloatArray) -> FloatArray:
    """Least-squares coefficients of a tensor-product spline through (nx, nz, columns)."""
    left = np.linalg.pinv(bx)
    right = np.linalg.pinv(bz @ free)
    inner = np.einsum("ia,abk,jb->ijk", left, values, right, optimize=True)
    return np.einsum("ijk,lj->ilk", inner, free, optimize=True)


def fit_line(positions: FloatArray, cells: int, values: FloatArray) -> FloatArray:
    out: FloatArray = np.linalg.lstsq(basis(positions, cells), values, rcond=None)[0]
    return out


class Builder:
    """Builds the table of one reference fluid."""

    def __init__(self, fluid: ReferenceFluid) -> None:
        self.fluid = fluid
        self.p_scale = SCALE_REDUCED_PRESSURE * fluid.p_crit
        self.p_max = fluid.top_reduced_pressure * fluid.p_crit
        self.x_min = self.x(fluid.p_min)
        self.x_width = self.x(self.p_max) - self.x_min

    def x(self, p: float) -> float:
        return float(np.log(p / (self.p_scale - p)))

    def pressure(self, x: float) -> float:
        e = np.exp(x + self.x_min)
        p = self.p_scale * e / (1.0 + e)
        return float(np.clip(p, self.fluid.p_min, self.p_max))

    def build(self) -> Table:
        line = self.build_line()
        empty = np.zeros((REGION_CELLS + 3, U_CELLS + 3, spline.REGION_COLUMNS))
        glide_cells = GLIDE_CELLS if self.fluid.has_glide_shape else 0
        self.table = Table(
            line=line,
            regions=np.stack([empty, empty]),
            glide=np.zeros((1, 4, 4, spline.GLIDE_COLUMNS)),
            p_min=self.fluid.p_min,
            p_max=self.p_max,
            p_crit=self.fluid.p_crit,
            t_crit=self.fluid.t_crit,
            molar_mass=self.fluid.molar_mass,
            p_scale=self.p_scale,
            x_min=self.x_min,
            line_cells=LINE_CELLS,
            line_scale=LINE_CELLS / self.x_width,
            region_cells=REGION_CELLS,
            region_scale=REGION_CELLS / self.x_width,
            u_cells=U_CELLS,
            glide_cells=glide_cells,
            stretch_liquid=STRETCH["liquid"],
            stretch_vapour=STRETCH["vapour"],
        )
        regions = np.stack([self.build_region("liquid"), self.build_region("vapour")])
        glide = self.build_glide()[None] if glide_cells else self.table.glide
        return self.table._replace(regions=regions, glide=glide)

    def build_line(self) -> FloatArray:
        positions = sample_positions(LINE_CELLS)
        values = np.empty((positions.size, spline.LINE_COLUMNS))
        cold, hot = None, None
        for n, position in enumerate(positions):
            p = self.pressure(position / LINE_CELLS * self.x_width)
            bubble, dew = self.fluid.saturation_temperatures(p)
            liquid = self.fluid.sample("liquid", p, bubble)
            vapour = self.fluid.sample("vapour", p, dew)
            cold = self.fluid.sample("liquid", p, self.fluid.t_min, transport=False)
            hot = self.fluid.sample("vapour", p, self.fluid.t_max, transport=False)
            values[n] = (
                bubble,
                dew,
                liquid.h,
                vapour.h,
                liquid.v,
                p * vapour.v,
                liquid.s,
                vapour.s,
                1.0 / (liquid.h - cold.h),
                1.0 / (hot.h - vapour.h),
                1.0 / liquid.mu,
                vapour.mu,
                liquid.k,
                vapour.k,
                1.0 / liquid.cp,
                1.0 / vapour.cp,
                self.fluid.surface_tension(p, bubble),
            )
        return fit_line(positions, LINE_CELLS, values)

    def build_region(self, phase: Phase) -> FloatArray:
        xs = sample_positions(REGION_CELLS)
        us = sample_positions(U_CELLS)
        a = STRETCH[phase]
        y = 2.0 * us / U_CELLS / (1.0 + a + np.sqrt((1.0 + a) ** 2 - 4.0 * a * us / U_CELLS))
        values = np.empty((xs.size, us.size, spline.REGION_COLUMNS))
        for m, position in enumerate(xs):
            p = self.pressure(position / REGION_CELLS * self.x_width)
            t_sat, h_sat, v_sat, s_sat, h_edge, mu_sat, k_sat, cp_sat = self.saturated(phase, p)
            temperature = t_sat
            for n in range(us.size):
                h = h_sat + y[n] * (h_edge - h_sat)
                temperature, point = self.fluid.sample_at_enthalpy(phase, p, h, temperature)
                values[m, n] = (
                    temperature - t_sat,
                    point.v / v_sat - 1.0,
                    point.s - s_sat,
                    cp_sat / point.cp - 1.0,
                    mu_sat / point.mu - 1.0,
                    point.k / k_sat - 1.0,
                )
        return fit_surface(
            values, basis(xs, REGION_CELLS), basis(us, U_CELLS), anchored(U_CELLS, both=False)
        )

    def saturated(self, phase: Phase, p: float) -> tuple[float, ...]:
        """Saturated state and outer enthalpy of a region, from the finished saturation lines."""
        bubble, dew, hl, hg, vl, vg, sl, sg = kernels.saturation(self.table, p)
        mul, mug, kl, kg, cpl, cpg, _ = kernels.saturation_transport(self.table, p)
        h_min, h_max = kernels.enthalpy_limits(self.table, p)
        if phase == "liquid":
            return bubble, hl, vl, sl, h_min, mul, kl, cpl
        return dew, hg, vg, sg, h_max, mug, kg, cpg

    def build_glide(self) -> FloatArray:
        xs = sample_positions(REGION_CELLS)
        qs = sample_positions(GLIDE_CELLS)
        values = np.empty((xs.size, qs.size, spline.GLIDE_COLUMNS))
        for m, position in enumerate(xs):
            p = self.pressure(position / REGION_CELLS * self.x_width)
            values[m] = self.fluid.glide_shape(p, qs / GLIDE_CELLS)
        return fit_surface(
            values,
            basis(xs, REGION_CELLS),
            basis(qs, GLIDE_CELLS),
            anchored(GLIDE_CELLS, both=True),
        )


COMPARED = ("T", "v", "s", "cp", "mu", "k")


def random_states(
    fluid: ReferenceFluid, phase: Phase, count: int, seed: int = 1
) -> Iterable[tuple[float, float, Sample]]:
    """Random (p, T, sample) of a phase, below 0.9 pc and 0.5 K or more off saturation."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        p = float(np.exp(rng.uniform(np.log(fluid.p_min), np.log(0.9 * fluid.p_crit))))
        bubble, dew = fluid.saturation_temperatures(p)
        if phase == "liquid":
            low, high = fluid.t_min, bubble - 0.5
        else:
            low, high = dew + 0.5, fluid.t_max
        # Half of the states within a few kelvins of saturation, where tables are worst.
        share = rng.uniform() ** (1.0 if rng.uniform() < 0.5 else 4.0)
        near, far = (high, low) if phase == "liquid" else (low, high)
        t = near + share * (far - near)
        yield p, t, fluid.sample(phase, p, t)


def greatest_errors(fluid: ReferenceFluid, table: Table, phase: Phase, count: int) -> list[float]:
    """Greatest relative error of each compared property over random states."""
    worst = [0.0] * len(COMPARED)
    for p, t, point in random_states(fluid, phase, count):
        row = kernels.full_state(table, p, point.h)
        truth = (t, point.v, point.s, point.cp, point.mu, point.k)
        for n, (ours, theirs) in enumerate(zip(row, truth, strict=False)):
            # Entropy has an arbitrary zero: heat capacity is the scale where it is small.
            size = max(theirs, point.cp) if COMPARED[n] == "s" else theirs
            worst[n] = max(worst[n], abs(ours - theirs) / size)
    return worst


HYDROCARBONS = "hydrocarbons"
CHECKED = ((0.0, 0.6, 0.4), (0.0, 0.93, 0.07), (0.5, 0.5, 0.0), (0.1, 0.0, 0.9), (0.3, 0.3, 0.4))


def build_hydrocarbons(path: Path) -> None:
    """Write the tables of propylene, propane and isobutane mixtures at their nodes."""
    nodes = hydrocarbon_nodes()
    fluids = [HydrocarbonMixture(shares) for shares in nodes]
    description = fluids[0].metadata()
    for only_of_one in ("composition", "critical_temperature", "critical_pressure", "molar_mass",
                        "enthalpy_shift", "entropy_shift"):  # fmt: skip
        del description[only_of_one]
    description |= {
        "scale_reduced_pressure": SCALE_REDUCED_PRESSURE,
        "top_reduced_pressure": fluids[0].top_reduced_pressure,
        "composition_of_nodes": "polynomial of degree 6 in the mass shares between 28 mixtures",
    }
    tables = [Builder(fluid).build() for fluid in fluids]
    write_nodes(path, np.array(nodes), tables, description)


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*", help="fluids to build, as in R-134a; default all")
    parser.add_argument("--check-only", action="store_true", help="do not build, only compare")
    parser.add_argument("--states", type=int, default=1000, help="random states a phase")
    options = parser.parse_args(arguments)
    known = [*FLUIDS, *MIXTURES, HYDROCARBONS]
    unknown = [name for name in options.names if name not in known]
    if unknown:
        parser.error(f"unknown: {', '.join(unknown)}; known: {', '.join(known)}")
    print(f"CoolProp {CoolProp.__version__}; greatest relative errors below 0.9 pc, 0.5 K off")
    print(f"{'fluid':12} {'phase':7} " + " ".join(f"{c:>8}" for c in COMPARED) + "   kB   s")
    for name in options.names or known:
        start = time.perf_counter()
        path = Path(TABLE_FOLDER) / f"{name}.npz"
        checked: list[tuple[str, ReferenceFluid, Table]] = []
        if name == HYDROCARBONS:
            if not options.check_only:
                build_hydrocarbons(path)
            for shares in CHECKED:
                mixed, _ = read_mixture(path, dict(zip(COMPONENTS, shares, strict=True)))
                label = "/".join(f"{100 * share:g}" for share in shares)
                checked.append((label, HydrocarbonMixture(shares), mixed))
        else:
            fluid = reference_fluid(name)
            if not options.check_only:
                write_table(path, Builder(fluid).build(), fluid.metadata())
            checked.append((name, fluid, read_table(path)[0]))
        size = path.stat().st_size / 1000.0
        for label, fluid, table in checked:
            for phase in ("liquid", "vapour"):
                errors = greatest_errors(fluid, table, phase, options.states)
                cells = " ".join(f"{e:8.1e}" for e in errors)
                took = time.perf_counter() - start
                print(f"{label:12} {phase:7} {cells} {size:5.1f} {took:5.1f}")
                sys.stdout.flush()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
