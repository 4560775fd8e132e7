"""What comes in and goes out: models, questions and their options, reading a body, examples."""
