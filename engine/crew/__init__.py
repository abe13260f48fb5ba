"""The people of a farm: who belongs to it, what each may do and hear, and how they are forgotten."""
