"""A new campaign to fill in: settings, tables with their headers, and an example row in each."""

from __future__ import annotations

from fishdown.blank_campaign.files import new_campaign

__all__ = ["new_campaign"]
