"""The plan file: its models, its loader with line numbers, its schema."""
