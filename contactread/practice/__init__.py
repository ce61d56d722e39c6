"""Questions, marking and progress for apprentices."""
