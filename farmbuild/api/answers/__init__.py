"""What programs may ask, a file a subject."""

from farmbuild.api.answers import benders, catalogue, changes, crew, houses, orders, plans, quotes, stock, token

ROUTERS = (
    token.router,
    houses.router,
    catalogue.router,
    stock.router,
    plans.router,
    orders.router,
    crew.router,
    benders.router,
    quotes.router,
    changes.router,
)
