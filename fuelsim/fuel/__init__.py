"""What is in the tank: species, equilibrium, liquid properties."""
