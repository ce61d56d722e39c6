"""Where the teeth are."""
