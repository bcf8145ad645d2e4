"""Declared timing by regions: exact in dense time, with open ends. Slow; an oracle for small systems."""
