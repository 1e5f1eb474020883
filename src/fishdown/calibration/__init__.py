"""Whether intervals and probabilities are right on average: many simulated campaigns, many fits."""
