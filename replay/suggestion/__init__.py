"""What an unknown recording holds, and the channel map that it suggests."""
