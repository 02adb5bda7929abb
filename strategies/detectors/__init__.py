"""From signals to states such as cornering, airborne or landing; one detector per file."""
