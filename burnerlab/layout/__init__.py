"""Where the heat lands: view factors, heat map, measured grids, search, carry-over, hot skins."""
