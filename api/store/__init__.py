"""The store: studies, sweeps, keys and the work queue as rows, on SQLite and PostgreSQL."""
