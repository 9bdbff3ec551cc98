"""What ``learn`` promises."""
