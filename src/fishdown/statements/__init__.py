"""Statements from the posterior for users: verdicts, estimates, removals, and their wording."""
