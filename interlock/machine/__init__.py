"""The spec interpreted directly: sequences as executable machines in a small simulated plant.

In: a `Spec`. Out: situations and events that must equal those of the core, and random runs judged against the rules.
Nothing here knows the core; the two meet only in a test.
"""
