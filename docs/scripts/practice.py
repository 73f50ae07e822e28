"""A simulated machine charged by hand, and the debrief."""

import sweatline as sl

job = sl.read_job("examples/seed-store.toml")
build = job.combination(compressor="drinks cooler", refrigerant="R-513A", capillary="1.4")
hands = sl.practice(build, seed=3, samples=32)
for dose in ("40 g", "30 g"):
    hands.add(dose)
    print(hands.wait("15 min"))
found = hands.debrief()
print(f"{1e3 * found.charge:.0f} g in, best {1e3 * found.mended_charge:.0f} g")
