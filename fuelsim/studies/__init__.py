"""Questions: each asks the system many operating points in one call.

What is judged stands in `measures`, the limits and their sources in `limits`, the rules in `requirements`; `findings`
gathers the checks of the modules that end in ``_findings``. A study whose result is more than a few lines has a module
for the function and one for the result: `compare` and `comparison`, `size` and `sizing`.
"""
