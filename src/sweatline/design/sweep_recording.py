"""Records of the sweeps: charge, rooms, frost."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from sweatline.design.machine_records import Grid
from sweatline.design.recording import finite, head, verdict_record
from sweatline.design.records import (
    ChargeRangeRecord,
    ChargeRecord,
    CycleRecord,
    DefrostRecord,
    EventRecord,
    FrostingRecord,
    FrostRecord,
    FrostStepRecord,
    RoomRangeRecord,
    RoomRecord,
)
from sweatline.job.summary import summary_of
from sweatline.safety.cautions import cautions_of

if TYPE_CHECKING:
    from sweatline.design.frost import FrostAnswer
    from sweatline.design.questions import ChargeAnswer, RoomAnswer
    from sweatline.machine.balance import SteadyState

__all__ = ["charge_record", "frost_record", "room_record"]


def charge_record(answer: ChargeAnswer) -> ChargeRecord:
    """Record of the sweep from nearly empty to overfull."""
    build = answer.build
    return ChargeRecord(
        **head("charge-curve"),
        job=summary_of(build.job),
        cautions=cautions_of([build.refrigerant.name], work={"charging"}),
        parts=build.parts,
        stop=answer.stop,
        stop_bands=dict(answer.stop_bands),
        curve=answer.curve,
        ranges=tuple(
            ChargeRangeRecord(charge_kg=b.charge, bands=dict(bands)) for b, bands in answer.ranges
        ),
        events=tuple(
            EventRecord(
                charge_kg=e.charge,
                band_kg=band if band is not None else None,
                what=e.what,
                suction_pressure_Pa=e.suction_pressure,
                discharge_pressure_Pa=e.discharge_pressure,
            )
            for e, band in zip(answer.events, answer.event_bands, strict=True)
        ),
        draws=answer.draws,
        complete=answer.complete,
        ended=answer.ended,
    )


def room_record(answer: RoomAnswer) -> RoomRecord:
    """Record of one charged machine over a grid of rooms."""
    build, found = answer.build, answer.map

    def grid(of: Callable[[SteadyState], float | None]) -> Grid:
        return tuple(
            tuple(None if b is None else finite(of(b)) for b in row) for row in found.balances
        )

    return RoomRecord(
        **head("room-map"),
        job=summary_of(build.job),
        cautions=cautions_of([build.refrigerant.name], work={"planning"}),
        parts=build.parts,
        charge_kg=answer.known.charge,
        temperatures_K=tuple(float(t) for t in found.temperatures),
        relative_humidities=tuple(float(r) for r in found.humidities),
        water_kg_per_s=grid(lambda b: b.water),
        power_W=grid(lambda b: b.total_power),
        water_per_energy_kg_per_J=grid(lambda b: b.water_per_energy),
        coil_temperature_K=grid(lambda b: b.coil_temperature),
        superheat_K=grid(lambda b: b.superheat),
        discharge_pressure_Pa=grid(lambda b: b.discharge_pressure),
        reasons=found.reasons,
        frost_line=tuple(
            FrostRecord(
                relative_humidity=rh,
                room_temperature_K=t,
                band_K=band if band is not None else None,
            )
            for (rh, t), band in zip(answer.frost_line, answer.frost_bands, strict=True)
            if math.isfinite(t)  # beside a room without a balance there is no line
        ),
        ranges=tuple(
            RoomRangeRecord(
                temperature_K=float(found.temperatures[i]),
                relative_humidity=float(found.humidities[j]),
                bands=dict(bands),
            )
            for i, j, bands in sorted(answer.ranges, key=lambda r: r[:2])
        ),
        draws=answer.draws,
        complete=answer.complete,
    )


def frost_record(answer: FrostAnswer) -> FrostingRecord:
    """Record of a machine whose coil may freeze."""
    build, need, cycle = answer.build, answer.defrost, answer.cycle
    return FrostingRecord(
        **head("frost"),
        job=summary_of(build.job),
        cautions=cautions_of([build.refrigerant.name], work={"planning"}),
        parts=build.parts,
        room_temperature_K=answer.room[0],
        room_relative_humidity=answer.room[1],
        charge_kg=answer.start.charge,
        ended=answer.likely.ended,
        verdict=verdict_record(answer.verdict),
        blocked_s=answer.blocked(),
        steps=tuple(
            FrostStepRecord(
                time_s=s.time,
                air_share=s.airflow,
                freezing_kg_per_s=s.freezing,
                ice_kg=s.ice,
                thickest_m=s.thickest,
                evaporating_temperature_K=s.balance.evaporating_temperature,
                coil_temperature_K=s.balance.coil_temperature,
                power_W=s.balance.total_power,
                water_kg_per_s=s.balance.water,
            )
            for s in answer.likely.steps
        ),
        defrost=None
        if need is None
        else DefrostRecord(
            ice_kg=need.ice,
            energy_J=need.energy,
            metal_J=need.metal,
            rest_s=need.rest,
            hot_gas_s=need.hot_gas,
        ),
        cycle=None
        if cycle is None
        else CycleRecord(
            run_s=cycle.run,
            rest_s=cycle.rest,
            stop_at_K=cycle.stop_at,
            start_at_K=cycle.start_at,
            running_share=cycle.share,
        ),
        notes=answer.notes,
    )
