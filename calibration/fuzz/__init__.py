"""Attacks on everything that comes from outside, repeatable by a seed: ``python -m calibration.fuzz``."""
