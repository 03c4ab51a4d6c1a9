"""An appliance changed to another gas: orifices, checks, and what follows for air, flame and tile."""
