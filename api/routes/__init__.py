"""The routes, by what they are about."""

from api.routes import aids, facts, page, quick, sheets, studies, sweeps

#: In the order of the OpenAPI document.
ROUTERS = (
    studies.router,
    sheets.router,
    sweeps.router,
    quick.router,
    aids.router,
    facts.router,
    page.router,
)
