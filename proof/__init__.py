"""Proof that many can be served: soak, throughput, a model on paper, and load. None of it is installed."""
