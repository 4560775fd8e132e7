"""Before any route: host, key, rate, size, telemetry; plain ASGI, no route and no store row is known here."""
