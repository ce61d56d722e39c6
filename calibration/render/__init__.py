"""Truth-known pictures by a path tracer (extra `render`)."""
