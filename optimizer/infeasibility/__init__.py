"""Why there is no answer: the smallest sets of limits that cannot hold together.

`minimal_sets` knows sets only, `oracle` asks the search, `conflicts` puts them together, `reasons` says it in
a line or two. May use all stages but verification; never what is built on `solve`.
"""
