"""Lower bounds: Lagrangian multipliers in exact arithmetic, and the linear programs that find good ones."""
