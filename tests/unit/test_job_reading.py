"""Job files: what is read, and what each mistake is told."""

import math
import os
from pathlib import Path

import pytest

from sweatline.assembly.plate import plate_power
from sweatline.errors import JobError, UnitError
from sweatline.job.reading import JobFaults, read_job, read_job_text
from sweatline.uncertainty.parameter import Measured

EXAMPLES = Path(__file__).parents[2] / "examples"
SEED_STORE = (EXAMPLES / "seed-store.toml").read_text()


def changed(*pairs: tuple[str, str]) -> str:
    text = SEED_STORE
    for old, new in pairs:
        assert text.count(old) >= 1, old
        text = text.replace(old, new, 1)
    return text


def refusal(text: str) -> JobError:
    with pytest.raises(JobError) as caught:
        read_job_text(text, "j.toml")
    return caught.value


def line_with(text: str, words: str) -> int:
    return next(n for n, line in enumerate(text.split("\n"), 1) if words in line)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes of POSIX")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "job.toml")
    with pytest.raises(JobError, match="cannot be read: a pipe or a device"):
        read_job(tmp_path / "job.toml")


def test_the_seed_store() -> None:
    job = read_job(EXAMPLES / "seed-store.toml")
    assert job.unit_system == "SI"
    assert job.room.temperature.value == 288.15
    assert job.room.temperature.origin == "measured"
    assert job.refrigerants == ("R-134a", "R-152a", "R-290", "R-513A")
    assert job.original.refrigerant == "R-22"
    assert job.evaporator.rows == 2
    assert math.isclose(job.evaporator.fin_pitch.value, 1.8e-3)
    assert job.evaporator.fin_thickness.origin == "default"
    first, second, third = job.compressors
    assert first.displacement is not None
    assert math.isclose(first.displacement.value, 7.2e-6)
    assert first.displacement.origin == "nameplate"
    assert second.kind == "rotary"
    assert third.displacement is None
    assert third.rating is not None
    assert third.rating.convention == "ASHRAE HBP"
    assert math.isclose(third.rating.suction_temperature, 308.15)
    assert [c.fitted for c in job.capillaries] == [True, False, False]
    assert len(job.digest) == 64


def test_the_boat_shed_lives_on_defaults() -> None:
    job = read_job(EXAMPLES / "boat-shed.toml")
    assert job.unit_system == "US"
    assert job.fan.volume_flow.origin == "inferred"
    assert job.fan.power.origin == "default"
    assert job.targets.superheat == job.targets.subcooling == 5.0
    assumed = dict(job.assumed)
    assert {"evaporator.circuits", "fan.position", "targets.superheat"} <= set(assumed)
    assert all(assumed.values())
    assert dict(job.written)["evaporator.tube_outer_diameter"] == "3/8 in"


def test_every_default_has_an_uncertainty_and_a_reason() -> None:
    job = read_job(EXAMPLES / "boat-shed.toml")
    parts = [job.evaporator, job.condenser, job.fan, job.lines, job.limits, *job.compressors]
    count = 0
    for part in parts:
        for name in part.__dataclass_fields__:
            known = getattr(part, name)
            if getattr(known, "origin", "") in {"default", "inferred"}:
                count += 1
                assert known.note, name
                nothing = known.value == 0.0 and known.note == "none stated"
                assert known.sd > 0.0 or nothing, name
    assert count >= 15


def test_gauge_limits_count_from_the_local_atmosphere() -> None:
    high = read_job_text(SEED_STORE).limits.high_side_pressure
    sea = read_job_text(changed(('altitude = "640 m"', 'altitude = "0 m"')))
    assert high is not None
    assert sea.limits.high_side_pressure is not None
    assert math.isclose(
        sea.limits.high_side_pressure.value - high.value, 101325.0 - 93869.08, abs_tol=0.1
    )


def test_a_bore_gives_the_wall() -> None:
    job = read_job_text(changed(('tube_wall = "0.35 mm"', 'tube_bore = "8.8 mm"')))
    wall = job.evaporator.tube_wall
    assert (wall.origin, wall.value) == ("inferred", pytest.approx(0.36e-3))
    assert wall.sd == pytest.approx(math.hypot(0.02e-3, 0.02e-3) / 2.0)


def test_a_barometer_beats_the_altitude() -> None:
    job = read_job_text(
        changed(('altitude = "640 m"', 'altitude = "640 m"\npressure = "93 kPa abs"'))
    )
    assert job.place.atmospheric_pressure == 93000.0
    assert "place.pressure" not in dict(job.assumed)


def test_a_single_table_may_stand_where_several_could() -> None:
    text = (EXAMPLES / "boat-shed.toml").read_text()
    assert read_job_text(text.replace("[[compressor]]", "[compressor]")).compressors


REFUSED = [
    # what is changed, the line it is found on, the field, words of the sentence
    ('humidity = "75 %RH"', 'humidity = "120 %RH"', "room.humidity", "between 0 and 100 %"),
    ('humidity = "75 %RH"', 'humidity = "-5 %RH"', "room.humidity", "between 0 and 100 %"),
    ('humidity = "75 %RH"', "humidity = 75", "room.humidity", "bare number has no unit"),
    ('humidity = "75 %RH"', "humidity = true", "room.humidity", "relative humidity is wanted"),
    ('humidity = "75 %RH"', 'humidity = "?"', "room.humidity", "leave the line out"),
    ('temperature = "15 °C"', 'temperature = "15 K"', "room.temperature", "-30 °C to 60 °C"),
    ('temperature = "15 °C"', 'temperature = "15"', "room.temperature", "without a unit"),
    ('altitude = "640 m"', 'altitude = "6400 m"', "place.altitude", "-430 m to 5000 m"),
    ('altitude = "640 m"', 'elevation = "640 m"', "place.elevation", "nearest: altitude"),
    ('starting_torque = "low"', 'motor_kind = "psc"', "compressor[1].motor_kind", "st: motor,"),
    ('starting_torque = "low"', 'motor = "psk"', "compressor[1].motor", "psc; allowed: rsir"),
    ('installation = "floor"', 'installation = "roof"', "place.installation", "floor, window"),
    ('frequency = "50 Hz"', 'frequency = "50 kHz"', "supply.frequency", "20 Hz to 120 Hz"),
    ('tube_wall = "0.35 mm"', 'tube_wall = "4.8 mm"', "evaporator.tube_wall", "no bore is left"),
    ('tube_wall = "0.35 mm"', 'tube_bore = "10 mm"', "evaporator.tube_bore", "not smaller than"),
    ('"0.35 mm"', '"0.35 mm"\ntube_bore = "8 mm"', "evaporator.tube_wall", "wall or the bore"),
    ('"25.4 mm"', '"9 mm"', "evaporator.transverse_pitch", "tubes would overlap"),
    ('"22 mm"', '"9 mm"', "evaporator.longitudinal_pitch", "tubes would overlap"),
    ('fin_pitch = "1.8 mm"', 'fin_pitch = "60 fpi"', "evaporator.fin_pitch", "0.5 mm to 25 mm"),
    ("circuits = 1", "circuits = 25", "evaporator.circuits", "more circuits than the 20 tubes"),
    ("rows = 2 ", "rows = 2.5 ", "evaporator.rows", "whole number"),
    ("rows = 2 ", "rows = 0 ", "evaporator.rows", "1 to 12"),
    ("rows = 2 ", 'rowes = "2" ', "evaporator.rowes", "nearest: rows"),
    ('refrigerant = "R-22"', 'refrigerant = "R-134b"', "original.refrigerant", "nearest: R-"),
    ('"R-152a"', '"R-134a"', "refrigerants[2]", "listed twice"),
    ('displacement = "7.2 cm3"\n', "", "compressor[1]", "nothing says how much"),
    ('displacement = "7.2 cm3"', 'displacement = "7.2 L"', "compressor[1].displacement", "300 cm³"),
    ('kind = "rotary"', 'kind = "scroll"', "compressor[2].kind", "reciprocating, rotary"),
    ('name = "8.4 rotary"', 'name = "7.2 Reciprocating"', "compressor[2].name", "two parts of one"),
    ('"ASHRAE HBP"', '"ASHRE HBP"', "compressor[3].rating.conditions", "nearest: ASHRAE HBP"),
    ('conditions = "ASHRAE HBP"', "", "compressor[3].rating", "rating without its conditions"),
    ('bore = "1.1 mm"', 'bore = "11 mm"', "capillary[1].bore", "0.3 mm to 4 mm"),
    ('length = "0.95 m"\n', "", "capillary[1]", "fitted capillary needs its length"),
    ('"2.5 m"', '"2.5 m"\nfitted = true  # too', "capillary[3].fitted", "a second capillary"),
    ('"11 bar(g)"', '"26 bar(g)"', "limits.low_side_pressure", "above the high side's"),
    ('"25 bar(g)"', '"25 bar"', "limits.high_side_pressure", "write bar(g) or bar(a)"),
    ('"25 bar(g)"', '"-2 bar(g)"', "limits.high_side_pressure", "below a perfect vacuum"),
    ('superheat = "5 K"', 'superheat = "5 ± 4 K"', "targets.superheat", "says nothing"),
    ("[targets]", "[target]", "target", "nearest: targets"),
    ("[evaporator]", "[evaporater]", "evaporater", "nearest: evaporator"),
    ("[room]", "[rooom]", "rooom", "nearest: room"),
    ("[supply]", "[suply]", "suply", "nearest: supply"),
    ('superheat = "5 K"', 'superheat = [5]', "targets.superheat", "(read: a list)"),
    ('kind = "dehumidifier"', 'kind = "window unit"', "kind", "both coils in one stream of room"),
    ("[supply]", '[valve]\nkind = "TXV"\n\n[supply]', "valve", "circuits with a capillary tube"),
    ("[targets]", '[targets]\nexpansion = "TXV"', "targets.expansion", "valve is not known yet"),
    ("fouling = 0.9 ", "fouling = 9 ", "condenser.fouling", "5 % to 150 %"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "field", "says"), REFUSED)
def test_each_mistake_has_its_line_field_and_sentence(
    old: str, new: str, field: str, says: str
) -> None:
    text = changed((old, new))
    error = refusal(text)
    assert not isinstance(error, JobFaults), str(error)
    assert error.path == "j.toml"
    assert error.field == field
    assert says in str(error)
    assert error.line is not None
    if new:
        key = field.rpartition(".")[2]
        lines = [line for line in new.split("\n") if line.startswith(key)] or [new.split("\n")[0]]
        assert error.line == line_with(text, lines[0])
    assert "\n" not in str(error)


def test_a_missing_essential_is_told_at_its_table() -> None:
    text = changed(('voltage = "230 V"\n', ""))
    error = refusal(text)
    assert error.field == "supply.voltage"
    assert error.line == line_with(text, "[supply]")
    assert 'write voltage = "115 V"' in str(error)


def test_every_mistake_is_told_at_once() -> None:
    error = refusal(
        changed(
            ('temperature = "15 °C"', "temperature = 15"),
            ('tube_wall = "0.35 mm"', 'tube_wall = "4.8 mm"'),
            ('kind = "rotary"', 'kind = "scroll"'),
        )
    )
    assert isinstance(error, JobFaults)
    fields = [f.field for f in error.faults]
    assert fields == ["room.temperature", "evaporator.tube_wall", "compressor[2].kind"]
    assert str(error).count("\n") == 2
    assert [f.line for f in error.faults] == sorted(f.line or 0 for f in error.faults)


def test_a_long_list_of_mistakes_is_cut() -> None:
    error = refusal("\n".join(f"key{n} = 1" for n in range(500)))
    assert isinstance(error, JobFaults)
    assert len(error.faults) == 40
    assert str(error).split("\n")[-1].endswith("more")


def test_a_key_below_the_wrong_table() -> None:
    text = (EXAMPLES / "boat-shed.toml").read_text()
    error = refusal(text.replace('units = "US"\n', "").replace("[room]", '[room]\nunits = "US"'))
    assert isinstance(error, JobFaults)
    assert "move it above the first [table]" in str(error)
    assert 'write units = "US" or "SI"' in str(error)


BROKEN = [
    ('title = "Seed', "title = Seed", "needs quotation marks", 'title = Seed'),
    ('voltage = "230 V"', "voltage = 230 V", "more than one value", "voltage = 230 V"),
    ("[supply]", "[room]", "the table [room] stands twice", None),
    ("[supply]", "[supply", "not readable as TOML", "[supply"),
    ('voltage = "230 V"', "voltage", "without = and a value", "voltage"),
    ('voltage = "230 V"', 'voltage = "230 V', "not closed", 'voltage = "230 V'),
    ('voltage = "230 V"', 'frequency = "50 Hz"', "stands twice", None),
    ('voltage = "230 V"', "voltage = " + "9" * 5000, "number far too long", None),
    ('voltage = "230 V"', "voltage = " + "[" * 50, "nested too deep", "voltage = ["),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "says", "at"), BROKEN)
def test_what_is_not_toml(old: str, new: str, says: str, at: str | None) -> None:
    text = changed((old, new))
    error = refusal(text)
    assert says in str(error)
    assert len(str(error)) < 300
    if at is not None:
        assert error.line == line_with(text, at)


def test_a_unit_error_stays_one() -> None:
    assert isinstance(refusal(changed(('"25 bar(g)"', '"25 bar"'))), UnitError)


def test_ratings_as_written() -> None:
    rating = 'evaporating = "7 °C"\ncondensing = "54 °C"\nsuperheat = "11 K"\nsubcooling = "8 K"'
    job = read_job_text(changed(('conditions = "ASHRAE HBP"', rating)))
    found = job.compressors[2].rating
    assert found is not None
    assert found.convention == "as written"
    assert math.isclose(found.suction_temperature, 273.15 + 18.0)
    assert math.isclose(found.liquid_temperature, 273.15 + 46.0)


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ('evaporating = "7 °C"', "condensing missing"),
        ('evaporating = "7 °C"\ncondensing = "54 °C"\nliquid = "46 °C"', "return_gas or superheat"),
        (
            'evaporating = "7 °C"\ncondensing = "54 °C"\nliquid = "46 °C"\nreturn_gas = "2 °C"',
            "colder than the evaporating",
        ),
        (
            'evaporating = "7 °C"\ncondensing = "54 °C"\nliquid = "60 °C"\nreturn_gas = "20 °C"',
            "hotter than the condensing",
        ),
        (
            'evaporating = "7 °C"\ncondensing = "4 °C"\nsubcooling = "0 K"\nsuperheat = "9 K"',
            "not above the evaporating",
        ),
        ('conditions = "CECOMAF"\nliquid = "55 °C"', "not both"),
    ],
)
def test_ratings_that_cannot_be(lines: str, says: str) -> None:
    assert says in str(refusal(changed(('conditions = "ASHRAE HBP"', lines))))


MAP = """
[compressor.map]
refrigerant = "R-134a"
coefficients = "W, °C"
capacity = [1000, 30, -8, 0.3, -0.2, 0.01, 0, 0, 0, 0]
power = [200, 3, 2, 0, 0, 0, 0, 0, 0, 0]
return_gas = "18.3 °C"
subcooling = "0 K"
evaporating_range = ["-10 °C", "12 °C"]
condensing_range = ["35 °C", "60 °C"]
frequency = "50 Hz"
"""


def with_map(**changes: str) -> str:
    lines = [
        f"{key} = {changes[key]}" if (key := line.partition(" = ")[0]) in changes else line
        for line in MAP.split("\n")
    ]
    return changed(("[[capillary]]", "\n".join(lines) + "\n[[capillary]]"))


def test_a_map_is_read() -> None:
    found = read_job_text(with_map()).compressors[2].map
    assert found is not None
    assert found.capacity[:3] == (1000.0, 30.0, -8.0)
    assert found.suction_temperature == 273.15 + 18.3
    assert found.superheat is None
    assert found.condensing_range == (308.15, 333.15)


def test_a_map_in_trade_units_is_the_same_map() -> None:
    """A linear map written in BTU/h and °F gives the same watts at the same temperature."""
    fahrenheit = read_job_text(
        with_map(
            coefficients='"BTU/h, °F"',
            capacity="[3000, 50, -10, 0, 0, 0, 0, 0, 0, 0]",
            power="[200, 3, 2, 0, 0, 0, 0, 0, 0, 0]",
        )
    )
    found = fahrenheit.compressors[2].map
    assert found is not None
    ts, td = 5.0, 45.0
    ours = found.capacity[0] + found.capacity[1] * ts + found.capacity[2] * td
    theirs = (3000.0 + 50.0 * (1.8 * ts + 32.0) - 10.0 * (1.8 * td + 32.0)) * 1055.05585262 / 3600.0
    assert math.isclose(ours, theirs, rel_tol=1e-12)
    ours = found.power[0] + found.power[1] * ts + found.power[2] * td
    assert math.isclose(ours, 200.0 + 3.0 * 41.0 + 2.0 * 113.0, rel_tol=1e-12)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"capacity": "[1, 2, 3]"}, "ten coefficients"),
        ({"capacity": '"1"'}, "ten coefficients"),
        ({"power": "[nan, 0, 0, 0, 0, 0, 0, 0, 0, 0]"}, "plain number"),
        ({"power": "[0, 0, 0, 0, 0, 0, 0, 0, 0, 0]"}, "all ten coefficients are zero"),
        ({"coefficients": '"kW"'}, "W, °C, BTU/h, °F"),
        ({"condensing_range": '["60 °C", "35 °C"]'}, "lowest temperature comes first"),
        ({"condensing_range": '"60 °C"'}, "a lowest and a highest"),
        ({"evaporating_range": '["62 °C", "70 °C"]'}, "above where it condenses"),
        ({"return_gas": '"18 °C"\nsuperheat = "9 K"'}, "given twice"),
    ],
)
def test_maps_that_cannot_be(changes: dict[str, str], says: str) -> None:
    assert says in str(refusal(with_map(**changes)))


def test_files_that_are_not_job_files(tmp_path: Path) -> None:
    (tmp_path / "shed.toml").write_text("x")
    (tmp_path / "picture.toml").write_bytes(b"\x89PNG\x00\x01")
    (tmp_path / "latin.toml").write_bytes(b"a = 1\ntitle = '\xe9'")
    (tmp_path / "large.toml").write_bytes(b"#" * 1_000_001)
    for name, says in [
        ("shet.toml", "no file of this name; nearest: shed.toml"),
        ("picture.toml", "not a text file"),
        ("latin.toml", "latin.toml:2: not a text in UTF-8"),
        ("large.toml", "far too large"),
        (".", "this is a folder"),
        ("a\0b.toml", "cannot be read"),
        ("n" * 5000, "cannot be read"),
    ]:
        with pytest.raises(JobError) as caught:
            read_job(tmp_path / name)
        assert says in str(caught.value)
        assert caught.value.path.startswith(os.fspath(tmp_path))


def test_windows_line_ends_and_a_byte_order_mark_are_welcome(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SEED_STORE.replace("\n", "\r\n").encode())
    assert read_job(path).room == read_job_text(SEED_STORE).room


def test_horsepower_is_the_size_of_a_motor_and_never_running_watts() -> None:
    plate = 'rated_power = "290 W"'
    job = read_job_text(changed((plate, 'rated_power = "1/2 hp"')))
    one = job.compressors[0]
    assert plate_power(one) is None  # 390 W of a healthy machine exceed nothing
    assert one.motor_size is not None
    assert math.isclose(one.motor_size.value, 372.85, rel_tol=1e-4)
    same = read_job_text(changed((plate, 'motor_size = "1/2 hp"')))
    assert same.compressors == job.compressors
    twice = changed((plate, 'motor_size = "1/2 hp"\nrated_power = "1/2 hp"'))
    assert "says the same as motor_size" in str(refusal(twice))
    rated = changed(('power = "340 W"', 'power = "1/2 hp"'))
    assert "hp is a unit of motor size, and a power is wanted here" in str(refusal(rated))


def test_a_test_with_gas_narrows_the_bore() -> None:
    def tested(flow: str, gas: str = "nitrogen") -> Measured:
        keys = f'gas_pressure = "7 bar(g)"\ngas_flow = "{flow}"\ntest_gas = "{gas}"'
        text = changed(('length = "0.95 m"', f'length = "0.95 m"\n{keys}'))
        return read_job_text(text).capillaries[0].bore

    plain = read_job_text(changed()).capillaries[0].bore
    known = tested("26 L/min")
    assert known.sd < 0.8 * plain.sd
    assert abs(known.value - plain.value) < plain.sd
    assert tested("28 L/min").value > known.value
    assert tested("26 L/min", "air").value > known.value
    for written, says in (("60 L/min", "so much gas passes a bore of 1."), ("26 kg/h", "volume")):
        with pytest.raises(JobError, match=says):
            tested(written)
    alone = refusal(changed(('length = "0.95 m"', 'length = "0.95 m"\ngas_flow = "26 L/min"')))
    assert "needs gas_pressure too" in str(alone)
    own = '[original.capillary]\nbore = "1.1 mm"\nlength = "1 m"\ngas_flow = "26 L/min"\n\n[supply]'
    assert refusal(changed(("[supply]", own))).field == "original.capillary"
