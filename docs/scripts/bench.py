"""A pressure test, a rise test and the scale, for one job."""

import sweatline as sl

job = sl.read_job("examples/seed-store.toml")
looks = [("0 h", "9 bar(g)", "15 C"), ("20 h", "8.97 bar(g)", "15 C")]
print(sl.tightness(job, readings=looks, refrigerant="R-134a", compressor="drinks cooler").hold)
rise = [("0 min", "250 micron"), ("10 min", "255 micron"), ("60 min", "262 micron")]
print(sl.evacuation(job, rise=rise, refrigerant="R-134a", compressor="drinks cooler").rise)
print(sl.hose("R-134a", job, want="240 g", hoses=[("4.8 mm", "0.9 m", "liquid")]).weigh_out)
