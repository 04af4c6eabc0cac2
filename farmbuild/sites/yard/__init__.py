"""The yard: houses by site, each drawn in plan to one scale as far as it stands, and the next step of the season."""
