"""A simulated planter and a recorded operator: one evening in two minutes."""
