"""Exhaustive checks of the permissive chain of a station fast-charging installation for battery trains."""

__version__ = "0.1.0"
