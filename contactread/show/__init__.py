"""Overlay pictures, flank charts, report page, terminal tables."""
