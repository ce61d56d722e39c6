"""The axle file: TOML in, `Axle` out, and back."""

from contactread.axle_file.read import load_axle, parse_axle
from contactread.axle_file.write import axle_template, axle_toml

__all__ = ["axle_template", "axle_toml", "load_axle", "parse_axle"]
