"""The running bridge: sockets and ports bound to the pure core. It decides nothing."""
