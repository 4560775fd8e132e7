"""The routes, by what they are about."""

from api.routes import facts, quick, studies, sweeps

#: In the order of the OpenAPI document.
ROUTERS = (studies.router, sweeps.router, quick.router, facts.router)
