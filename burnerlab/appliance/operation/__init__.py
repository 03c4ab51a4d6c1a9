"""Supply and orifices solved together: what reaches every burner when they burn at once."""
