"""What the machine now does: readings and water in a bucket, held against what it should do.

Here: the request and its answer, what makes readings steady enough to count, the heat balance
between air and refrigerant, the machine carried to other rooms. Not here: finding what is wrong.
"""
