"""Many cases of one appliance: the injector table, the spread in production, sweeps."""
