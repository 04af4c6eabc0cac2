"""Recipe rows as planning inputs."""

from farmbuild.hoops.models import Recipe
from farmbuild.planning import inputs


def recipe_input(recipe: Recipe) -> inputs.Recipe:
    """``recipe`` comes with its tube loaded."""
    return inputs.Recipe(
        name=recipe.name,
        tube=recipe.tube.code,
        stick_length=recipe.stick_length,
        sticks=recipe.sticks,
        insertion=recipe.insertion,
        radius=recipe.radius,
        first_mark=recipe.first_mark,
        pitch=recipe.pitch,
        stop_gap=recipe.stop_gap,
    )
