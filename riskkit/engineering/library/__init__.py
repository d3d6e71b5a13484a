"""The models, one family a file."""
