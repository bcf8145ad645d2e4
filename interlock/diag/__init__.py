"""Where things are, and how mistakes are told.

In: places in files and the facts found there. Out: diagnostics, ready to print.
"""
