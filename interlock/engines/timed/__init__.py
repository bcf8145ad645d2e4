"""The engine of declared timing: zones over the settled situations of a system, only the windows that are needed."""
