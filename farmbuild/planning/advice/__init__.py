"""Small changes of houses that save material: found from the cut plan, each proven by planning the season again."""
