"""Tables, drawings, plots and reports: reads solutions, computes nothing."""
