"""Files that the next tools read: DXF, STEP, tables, inertia, and the sheets, written whole or not at all."""
