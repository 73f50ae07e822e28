"""How the machine answers as charge goes in, and where to stop."""

import sweatline as sl

job = sl.read_job("examples/seed-store.toml")
build = job.combination(compressor="drinks cooler", refrigerant="R-513A", capillary="1.4")
answer = build.charge_curve()
for state in answer.curve[::6]:
    print(f"{1e3 * state.charge:4.0f} g  superheat {state.superheat:5.1f} K")
print(f"Stop at {1e3 * answer.stop.charge:.0f} g.")
sl.plot(answer)[0].savefig("charge-curve.svg")
