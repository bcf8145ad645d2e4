"""Answers put together: the verdict grid, findings, honesty checks, scenarios told in words.

In: a spec and engines. Out: frozen results that reports turn into text.
"""
