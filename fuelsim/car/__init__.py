"""The car as data: its tables, engine, climate and the car file."""
