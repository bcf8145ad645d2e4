"""The expression language: one operator table, parsing, resolved formulas, interned expressions, showing.

In: text from a spec. Out: `Term` (as written), `Formula` (names resolved), `Expression` (interned, for the core).
"""
