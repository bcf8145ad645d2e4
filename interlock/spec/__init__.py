"""The document: read (YAML to nodes with positions), build (nodes to `Spec`), check (names, types, units, unused)."""
