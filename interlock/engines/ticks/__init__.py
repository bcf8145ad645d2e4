"""Declared timing in whole ticks: exact for closed windows. Slow; an oracle for small systems."""
