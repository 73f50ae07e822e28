"""What readings of the machine as it ran teach about its rebuild."""

import sweatline as sl

job = sl.read_job("examples/timber-store.toml", calibrate=False)
print(job.calibration())
