"""The shop book: axle jobs, tries, photos, measurements."""
