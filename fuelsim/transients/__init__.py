"""What happens over time: drives, hot soaks and restarts."""
