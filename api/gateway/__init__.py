"""What every call passes before any route: host, key, rate, size, time; and telemetry. Plain ASGI."""
