"""Whether what is replayed is what the vehicle ran."""
