"""The explicit engine: every situation, 64 at a time, in compiled kernels. Same questions, counts, scenarios as the
others.

Actions become disjoint rows (`cubes`, `rows`), rows become tables over packed keys (`layout`, `tables`), and the same
compiled kernels run over the tables of any system (`kernels`). numpy and numba are loaded on use.
"""
