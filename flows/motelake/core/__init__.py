"""Pure functions over values: what a campaign is, and what its files say."""
