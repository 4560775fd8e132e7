"""Starts the service as `ringset serve` does, with work done by the function that is named."""

import sys

from ringset.api.serve import serve_http
from ringset.api.settings import read_settings

if __name__ == "__main__":
    serve_http(read_settings(), sys.argv[1])
