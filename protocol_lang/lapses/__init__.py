"""What if someone forgets? Lapses, the margin of a protocol, and what one of them alone opens."""
