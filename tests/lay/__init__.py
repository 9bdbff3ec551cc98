"""Tests of laying: the pure machine against simulated hosts, the command against real ones."""
