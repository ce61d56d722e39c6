"""The mechanics on trial: directions, backlash and speed of the mesh model, each printed by a command."""
