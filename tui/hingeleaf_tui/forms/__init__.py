"""Turn parameters into command options and form entries."""
