"""What the operator sees: one JSON line per call on standard error, and Prometheus metrics."""

from __future__ import annotations

import json
import logging
import time
from typing import Any

from prometheus_client import CollectorRegistry, Counter, Histogram
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.registry import Collector

from ringset.api.store.connections import StoreUnavailable
from ringset.api.store.studies import Store
from ringset.api.workers.supervisor import Supervisor

#: Members that a log line may carry; nothing else of a call is ever logged.
FIELDS = (
    "request_id", "method", "path", "status", "ms", "key", "study", "owner", "fault", "address",
)  # fmt: skip


class JsonLines(logging.Formatter):
    """Formats a record as one JSON line."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the line."""
        line: dict[str, Any] = {
            "time": time.strftime("%Y-%m-%dT%H:%M:%S", time.gmtime(record.created))
            + f".{int(record.msecs):03d}Z",
            "level": record.levelname.lower(),
            "event": record.getMessage(),
        }
        line |= {name: getattr(record, name) for name in FIELDS if hasattr(record, name)}
        if record.exc_info:
            line["trace"] = self.formatException(record.exc_info)
        return json.dumps(line)


def telemetry_log_config(level: str) -> dict[str, Any]:
    """Return the logging set-up of the service."""
    logger = {"handlers": ["lines"], "level": level.upper(), "propagate": False}
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {"lines": {"()": "ringset.api.gateway.telemetry.JsonLines"}},
        "handlers": {"lines": {"class": "logging.StreamHandler", "formatter": "lines"}},
        "loggers": {"ringset": logger, "uvicorn": logger, "uvicorn.error": logger},
    }


class Metrics:
    """The metrics of one service."""

    def __init__(self, store: Store, supervisor: Supervisor) -> None:
        self.registry = CollectorRegistry()
        self.calls = Counter(
            "ringset_http_requests_total",
            "Calls answered.",
            ["method", "route", "status"],
            registry=self.registry,
        )
        self.seconds = Histogram(
            "ringset_http_request_seconds",
            "Time to answer a call, or to end its stream.",
            ["route"],
            registry=self.registry,
            buckets=(0.002, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 10, 60),
        )
        self.registry.register(_Work(store, supervisor))

    def called(self, method: str, route: str, status: int, seconds: float) -> None:
        """Count a call; methods that no route knows are one, or callers could add without end."""
        known = method if method in ("GET", "POST", "HEAD", "OPTIONS") else "other"
        self.calls.labels(known, route, str(status)).inc()
        self.seconds.labels(route).observe(seconds)


class _Work(Collector):
    """Reads queue and workers when asked."""

    def __init__(self, store: Store, supervisor: Supervisor) -> None:
        self.store, self.supervisor = store, supervisor

    def collect(self) -> list[GaugeMetricFamily]:
        """Return the numbers of now."""
        studies = GaugeMetricFamily("ringset_studies", "Open studies by state.", labels=["state"])
        try:
            for state, count in self.store.counts().items():
                studies.add_metric([state], count)
        except StoreUnavailable:
            pass  # the other numbers are wanted all the more
        watched = self.supervisor
        return [
            studies,
            GaugeMetricFamily("ringset_slots_busy", "Workers at work.", watched.busy),
            GaugeMetricFamily("ringset_slots", "Worker slots.", watched.settings.slots),
            GaugeMetricFamily(
                "ringset_worker_deaths", "Workers that died at work.", watched.deaths
            ),
            GaugeMetricFamily(
                "ringset_ready", "Whether studies can be worked on.", int(watched.ready)
            ),
        ]
