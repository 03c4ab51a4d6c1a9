"""The workshop of the flame tables: which flames are solved, and how they become a table."""
