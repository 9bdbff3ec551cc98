"""The craft of long songs: tightening, drift, groove and pairing.

Everything here computes; nothing here judges a plan.  It stands between the cycles and
the plan, and knows neither files nor hosts.
"""
