"""The commands of `ringset`, one module per group; each adds its own with `add`."""
