"""Engines answer questions about a core. Each states what it can decide; all agree or the program is at fault."""
