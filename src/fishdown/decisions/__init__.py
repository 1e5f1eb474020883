"""Decisions: what lies ahead of a campaign, and what it is worth."""
