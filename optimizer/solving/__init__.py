"""The pipeline through the five stages, and the answer composed from the chosen rows."""
