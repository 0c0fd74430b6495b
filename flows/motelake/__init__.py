"""motelake: from the raw bursts of a temporary sensor network to answers that say how far they can be trusted."""
