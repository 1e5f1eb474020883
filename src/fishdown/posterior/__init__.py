"""Posterior draws with their quality: sampling, judging, saving, and the exact yardstick."""
