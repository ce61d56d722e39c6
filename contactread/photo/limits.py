"""How large and how small a photo may be."""

# Our choices; a phone of 50 million pixels writes 15 to 25 MB (from memory).
MOST_BYTES = 60_000_000
MOST_PIXELS = 100_000_000
MOST_MEMORY = 750_000_000  # bytes that decoding a photo may take: pixels, and what decoders hold beside them
LONGEST_SHAPE = 12  # times as long as wide: a panorama; more is no photo
FEWEST_PIXELS_ACROSS = 200  # on the shorter side; no tooth can be measured in less
