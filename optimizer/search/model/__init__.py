"""A table under limits as a whole-number program: variables, objectives, constraints, matrix."""
