"""Water in other rooms, and where the coil freezes."""

import sweatline as sl

job = sl.read_job("examples/seed-store.toml")
build = job.combination(compressor="drinks cooler", refrigerant="R-513A", capillary="1.4")
answer = build.room_map(temperatures=["6 degC", "12 degC", "18 degC"], humidities=[0.6, 0.8])
for point in answer.frost_line:
    limit = point.room_temperature - 273.15
    print(f"at {100 * point.relative_humidity:.0f} %RH the coil freezes below {limit:.1f} °C")
