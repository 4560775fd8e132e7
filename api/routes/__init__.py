"""The routes, by what they are about."""

from api.routes import facts, quick, studies

#: In the order of the OpenAPI document.
ROUTERS = (studies.router, quick.router, facts.router)
