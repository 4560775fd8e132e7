"""Starts the service as `ringset serve` does; with an argument, work is done by that function."""

import sys

from ringset.api.serve import serve
from ringset.api.settings import read_settings

if __name__ == "__main__":
    serve(read_settings(), sys.argv[1] if len(sys.argv) > 1 else None)
