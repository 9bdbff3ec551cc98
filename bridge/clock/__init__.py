"""Timers: the machine's steady clock, and a virtual one that jumps. Thin."""

from bridge.clock.clock import Clock, SteadyClock, VirtualClock

__all__ = ["Clock", "SteadyClock", "VirtualClock"]
