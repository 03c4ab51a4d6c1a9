"""The project file: its words, its values, and the appliance that it describes."""
