"""The page for a phone on the shop's network (extra `web`)."""
