"""Models: the specification in a model file, and its graph."""
