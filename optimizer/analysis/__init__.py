"""What is built on `solve`: six folders that do not know each other."""
