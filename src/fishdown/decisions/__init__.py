"""What to do next: decisions that follow from a fit, one a file."""
