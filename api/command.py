"""The commands around the JSON API: serve, keys.

Every `ringset` command loads this module, so what the service needs is imported only where a command runs:
its libraries are an extra, and slow to load.
"""

from __future__ import annotations

import argparse
import contextlib
import sys
import time
from typing import TYPE_CHECKING

from ringset.errors import ANSWERED, Refused

if TYPE_CHECKING:
    from ringset.api.settings import Settings


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the commands `serve` and `keys`."""
    serve = commands.add_parser(
        "serve",
        help="run the JSON API",
        description="Run the JSON API until interrupted. Every setting can be given by environment.",
    )
    serve.add_argument("--host", metavar="ADDRESS", help="address to listen on (127.0.0.1)")
    serve.add_argument("--port", type=int, metavar="N", help="port (8730)")
    serve.add_argument("--store", metavar="URL", help="store (sqlite:///ringset.db)")
    serve.add_argument("--settings", action="store_true", help="list every setting and end")
    serve.set_defaults(run=_serve)

    keys = commands.add_parser(
        "keys",
        help="make, list and withdraw keys of the JSON API",
        description="Make, list and withdraw the keys without which nobody may call from elsewhere.",
    )
    keys.add_argument("action", choices=("make", "list", "withdraw"), help="what to do")
    keys.add_argument("name", nargs="?", metavar="NAME", help="name of the key: who will use it")
    keys.add_argument("--store", metavar="URL", help="store (sqlite:///ringset.db)")
    keys.set_defaults(run=_keys)


def _settings(options: argparse.Namespace) -> Settings:
    try:
        from ringset.api.settings import SettingsError, read_settings
    except ModuleNotFoundError as error:
        raise Refused(
            f"{error.name}: not installed; install with: pip install '.[serve]'"
        ) from None

    names = {"host": "host", "port": "port", "store": "store_url"}
    given = {
        setting: getattr(options, name)
        for name, setting in names.items()
        if getattr(options, name, None) is not None
    }
    try:
        return read_settings(**given)
    except SettingsError as error:
        raise Refused(str(error)) from None


def _serve(options: argparse.Namespace) -> int:
    settings = _settings(options)
    if options.settings:
        from ringset.api.settings import settings_text

        sys.stdout.write(settings_text())
        return ANSWERED
    try:
        from ringset.api.serve import ServeError, serve_http
    except ModuleNotFoundError as error:
        raise Refused(
            f"{error.name}: not installed; install with: pip install '.[serve]'"
        ) from None
    try:
        serve_http(settings)
    except ServeError as error:
        raise Refused(str(error)) from None
    return ANSWERED


def _keys(options: argparse.Namespace) -> int:
    settings = _settings(options)
    if (options.name is None) != (options.action == "list"):
        raise Refused(f"NAME: given with {options.action}; allowed: make NAME, withdraw NAME, list")
    from ringset.api.store.api_keys import (
        KeyNameError,
        list_api_keys,
        make_api_key,
        withdraw_api_key,
    )
    from ringset.api.store.connections import StoreUnavailable, StoreUrlError
    from ringset.api.store.schema import UnknownStore
    from ringset.api.store.studies import Store

    try:
        with contextlib.closing(Store(settings.store_url)) as store:
            if options.action == "make":
                print(make_api_key(store, options.name))
                print(
                    "Keep it: only its hash is stored, it cannot be shown again.", file=sys.stderr
                )
            elif options.action == "withdraw":
                withdraw_api_key(store, options.name)
            else:
                for key in list_api_keys(store):
                    made = time.strftime("%Y-%m-%d", time.gmtime(key.made))
                    print(
                        f"{key.name}  made {made}{'' if key.withdrawn is None else '  withdrawn'}"
                    )
    except (KeyNameError, StoreUrlError, UnknownStore) as error:
        raise Refused(str(error)) from None
    except StoreUnavailable as error:
        raise Refused(f"store_url: given a store that cannot be used ({error})") from None
    return ANSWERED
