"""One measure per file; a file put here is found and scored without being named anywhere else."""
