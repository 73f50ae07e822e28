"""Physics of the work at the machine, with hoses on."""
