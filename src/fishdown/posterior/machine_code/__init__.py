"""The log-density of a graph as machine code that is kept on disk.

PyTensor keeps the code of a function, but to learn which function that is takes most of the time:
the graph is differentiated, simplified and written as Python first. Here the machine code is found
again by the graph as it was stated (`fingerprint`); only if there is none it is made (`functions`).
"""
