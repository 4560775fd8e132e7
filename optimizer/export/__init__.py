"""Files that the next tools read: DXF, STEP, tables, inertia, and the sheets, written whole or not at all.

Everything comes from an answer that the judge has passed; nothing is solved here. Libraries of a format are
imported where a file of it is written.
"""
