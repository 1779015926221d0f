"""fuelsim: size and prove the fuel delivery of a car converted to electronic fuel injection."""
