"""Ring-gear flank geometry, mesh kinematics, gap field, response of pattern and backlash to shims."""
