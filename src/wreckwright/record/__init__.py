"""What is known of one machine: typed, validated, no I/O. Imports trade."""
