"""An axle file that tests of several rooms share."""

# Invented for these tests; no real axle.
AXLE = """
name = "Fernhill 21"
[gears]
pinion_teeth = 11
ring_teeth = 41
ring_diameter = "215 mm"
[pinion_shim]
place = "behind_head"
thickness = "1.00 mm"
[carrier]
kind = "side_shims"
ring_side = "6.00 mm"
opposite_side = "6.50 mm"
[limits]
backlash = ["0.13 mm", "0.20 mm"]
backlash_spread = "0.05 mm"
ring_runout = "0.06 mm"
pinion_preload_new = ["2.0 N·m", "3.0 N·m"]
pinion_preload_used = ["1.0 N·m", "2.0 N·m"]
total_preload = ["2.5 N·m", "3.6 N·m"]
"""
