"""The page: the whole job in a browser, on the bench's own machine or a phone beside it.

Here live routes, templates, styles and small ES modules. No physics, no SQL, no answer of its own:
the page calls what the commands call and shows the same answer types.
"""
