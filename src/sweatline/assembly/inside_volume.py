"""Inside volume of a circuit, piece by piece in the order in which the refrigerant meets them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from sweatline.job.model import Coil, Compressor, Job
from sweatline.uncertainty.measured import Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitPiece:
    """One piece of the circuit."""

    name: str
    side: Literal["low", "high"]
    volume: float  # m3
    sd: float  # m3
    joints: int  # places where it may leak, brazed or screwed


def circuit_pieces(job: Job, compressor: Compressor) -> tuple[CircuitPiece, ...]:
    """Pieces of the circuit of a job with one of its compressors, from the shell around.

    The shell of a rotary belongs to the high side. Numbers of joints are counted from the coils;
    two for each line and the compressor's stubs.
    """
    lines = job.lines
    shell = compressor.shell_volume
    rotary = compressor.kind == "rotary"
    pieces = [
        _coil("evaporator", "low", job.evaporator),
        _tube("suction line", "low", lines.suction_bore, lines.suction_length),
    ]
    if lines.accumulator_volume.value > 0.0:
        pieces.append(_known("accumulator", "low", lines.accumulator_volume, 2))
    pieces += [
        _known("compressor shell", "high" if rotary else "low", shell, 3),
        _tube("discharge line", "high", lines.discharge_bore, lines.discharge_length),
        _coil("condenser", "high", job.condenser),
        _tube("liquid line", "high", lines.liquid_bore, lines.liquid_length),
        _known("drier", "high", lines.drier_volume, 3),
    ]
    return tuple(pieces)


def side_volume(
    pieces: tuple[CircuitPiece, ...], side: Literal["low", "high"]
) -> tuple[float, float]:
    """Volume of one side and its standard deviation. [m3]"""
    return total_volume(tuple(p for p in pieces if p.side == side))


def total_volume(pieces: tuple[CircuitPiece, ...]) -> tuple[float, float]:
    """Volume of pieces and its standard deviation. [m3]"""
    return sum(p.volume for p in pieces), math.sqrt(sum(p.sd**2 for p in pieces))


def _coil(name: str, side: Literal["low", "high"], coil: Coil) -> CircuitPiece:
    bore = coil.tube_outer_diameter.value - 2.0 * coil.tube_wall.value
    bore_sd = math.hypot(coil.tube_outer_diameter.sd, 2.0 * coil.tube_wall.sd)
    tubes = coil.rows * coil.tubes_per_row
    # A return bend is half a circle over the pitch; ends and headers are anybody's guess.
    bend = 0.5 * math.pi * coil.transverse_pitch.value
    length = tubes * (coil.finned_length.value + bend)
    volume = 0.25 * math.pi * bore**2 * length
    relative = math.hypot(2.0 * bore_sd / bore, 0.5 * tubes * bend / length)
    # Every bend is brazed on one side at least: a joint a tube.
    return CircuitPiece(name=name, side=side, volume=volume, sd=relative * volume, joints=tubes + 2)


def _tube(
    name: str, side: Literal["low", "high"], bore: Measured, length: Measured
) -> CircuitPiece:
    volume = 0.25 * math.pi * bore.value**2 * length.value
    relative = math.hypot(
        2.0 * bore.sd / bore.value, length.sd / length.value if length.value > 0.0 else 0.0
    )
    return CircuitPiece(name=name, side=side, volume=volume, sd=relative * volume, joints=2)


def _known(name: str, side: Literal["low", "high"], known: Measured, joints: int) -> CircuitPiece:
    return CircuitPiece(name=name, side=side, volume=known.value, sd=known.sd, joints=joints)
