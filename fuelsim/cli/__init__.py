"""One file per subcommand."""
