"""Models: what a model file says (specification) and the graph it becomes."""
