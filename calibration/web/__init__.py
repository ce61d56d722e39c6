"""The phone's page against its bars: mutated uploads, starts and stops, many phones at once."""
