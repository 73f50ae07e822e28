"""Which of the parts on the bench work together?"""

import sweatline as sl

job = sl.read_job("examples/seed-store.toml")
ranking = job.match(samples=8)
print(ranking)
best = ranking[0]
print(f"Build {best}.")
