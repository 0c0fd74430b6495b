"""Raw objects as delivered to hearings and rejects, one file a format."""
