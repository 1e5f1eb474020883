"""Tables as people read them: cells, units and rounding are decided here, for terminal and page."""
