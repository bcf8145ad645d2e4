"""Reports: one module a format, results to text.

In: frozen results of the analyses. Out: text, ready to be written; nothing here opens a file or looks at a clock.
"""
