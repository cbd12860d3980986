"""From obstacles in the hub's half plane to the gap of one section in the worst pose."""
