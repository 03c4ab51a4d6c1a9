"""Which faults explain a reading, and what is measured next."""
