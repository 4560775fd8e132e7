"""What comes in and goes out: models, query options, reading a body, examples."""
