"""From readings to the next shim move: rules with sources, solver, learning."""
