"""Bytes to an upright picture."""
