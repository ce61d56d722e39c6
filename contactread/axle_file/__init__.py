"""The axle file: TOML in, `Axle` out, and back."""

from contactread.axle_file.read import axle_text, load_axle, parse_axle, sound_axle_text
from contactread.axle_file.write import axle_template, axle_toml

__all__ = ["axle_template", "axle_text", "axle_toml", "load_axle", "parse_axle", "sound_axle_text"]
