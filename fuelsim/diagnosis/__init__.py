"""What is wrong with a car: readings of its gauges against what each cause would make them show."""
