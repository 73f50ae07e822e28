"""What was read and done at a machine, kept in a file, and what to do next while charging."""

import sweatline as sl

job = sl.read_job("examples/seed-store.toml")
with sl.open_log("charging.log", new=True, refrigerant="R-513A", altitude="640 m") as log:
    for line in ("14:00 added 150 g", "14:00 started", "14:20 suction 1.60 bar(g)"):
        log.add(line)
    charging = job.charging(log, compressor="drinks cooler", capillary="1.4", refrigerant="R-513A")
    answer = charging.record("14:20", "head 6.1 bar(g); suction gas 14 C; liquid line 22 C")
    print(answer.action, answer.reason)
    print(len(log.readings()), "readings;", charging.advice().charge, "kg in")
