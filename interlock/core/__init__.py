"""The transition system with tiers and windows that all engines see.

In: a `Spec`. Out: a `System`, the questions about it, and the plain meaning of one event.
"""
