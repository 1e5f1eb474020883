"""Counting: which fish could have been in which catch."""
