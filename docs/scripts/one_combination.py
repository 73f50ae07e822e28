"""What one choice of parts shows in a colder room, with likely ranges."""

import sweatline as sl

job = sl.read_job("examples/seed-store.toml")
build = job.combination(compressor="drinks cooler", refrigerant="R-513A", capillary="1.4")
found = build.balance(room_temperature="10 degC", samples=16)
print(found)
suction = found.bands["suction_pressure_Pa"]
print(f"Suction {suction.low / 1e5:.2f} to {suction.high / 1e5:.2f} bar absolute, 9 in 10.")
print(f"Coil frosts: {found.steady.coil_temperature < 273.15}")
