"""The gate: what a raw object is judged by, and the verdict in words."""
