"""Compound against metal, the measured patch of each tooth, the side, the pair of sides."""
