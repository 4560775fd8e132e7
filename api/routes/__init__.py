"""The routes, by what they are about."""

from ringset.api.routes import assistance, immediate, page, service_facts, sheets, studies, sweeps

#: In the order of the OpenAPI document.
ROUTERS = (
    studies.router,
    sheets.router,
    sweeps.router,
    immediate.router,
    assistance.router,
    service_facts.router,
    page.router,
)
