"""What the posterior says, for people: verdicts, estimates, removals, the words for them."""
