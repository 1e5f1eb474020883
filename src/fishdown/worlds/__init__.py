"""Invented campaigns drawn from a stated truth, to try models on.

The simulation is by single lots (beta, binomial, hypergeometric) and shares no code with the
models' densities. A world may hold what a model does not assume: fish that never visit the bait,
marks that get lost, marked fish that shun the nets, nets that differ.
"""

from __future__ import annotations

from fishdown.worlds.netting import water_temperature
from fishdown.worlds.simulation import simulate, simulate_records
from fishdown.worlds.truth import LakeTruth, World

__all__ = ["LakeTruth", "World", "simulate", "simulate_records", "water_temperature"]
