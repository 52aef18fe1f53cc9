"""What touches wires: gauges, machine inputs and contacts, and the simulated plant."""
