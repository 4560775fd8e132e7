"""Ways to close the gap between bound and answer: enumeration, branch and bound, decomposition."""
