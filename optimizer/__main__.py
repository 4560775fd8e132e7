"""`python -m ringset` is the command `ringset`."""

from ringset.cli.main import script

script()
