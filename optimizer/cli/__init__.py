"""The commands of `ringset`, one module per group; each adds its own with `add`.

Options, messages and exit codes are part of the contract. Solvers, pandas and drawing libraries are imported
inside the functions that need them, so that a command is ready at once.
"""
