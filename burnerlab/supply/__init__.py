"""At what pressure the gas arrives, and into what air it burns."""
