"""contactread: gear tooth-contact patterns from photographs, and the next shim move."""

__version__ = "0.1.0"
