"""Many changed studies into one table, kept line by line as they are solved."""
