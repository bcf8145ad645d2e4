"""The reference engine: plain sets and dictionaries over the plain meaning. Slow; the oracle for small systems."""
