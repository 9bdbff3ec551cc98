"""What the clocks promise."""

from bridge.clock import SteadyClock, VirtualClock


def test_the_virtual_clock_jumps_and_never_falls():
    clock = VirtualClock()
    clock.sleep_until(3600.0)
    clock.sleep_until(10.0)
    assert clock.now() == 3600.0


def test_the_steady_clock_waits_until_the_time_asked_for():
    clock = SteadyClock()
    at = clock.now() + 0.002
    clock.sleep_until(at)
    assert clock.now() >= at
    clock.sleep_until(at - 1)
