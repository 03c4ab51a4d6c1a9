"""How much gas comes through: flow through orifices, bores for a heat input, drills and altitude policies."""
