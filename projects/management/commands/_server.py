"""What serve and demo share: a port taken before anything is touched, a database brought up to date, the server."""

import contextlib
import gc
import signal
import socket
import sys
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.core.wsgi import get_wsgi_application
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.urls import reverse
from django.utils import timezone

from projects.keeping.actions.backups import BackupFailed, clear_left_over, keep_backup
from projects.keeping.actions.unclaimed import UNCLAIMED, move_unclaimed
from projects.keeping.domain import BEFORE_UPDATE
from projects.management.beside import Forerunner, Keeper, Planner
from projects.management.door import listening
from projects.management.gate import Gate
from projects.management.tls import Certifier, TlsServer, doorstep
from projects.plans.actions.tasks import take_up_left
from projects.site.authority import kept_authority

from ._files import data_folder

EVERYWHERE = {"0.0.0.0", "::"}
ENDS = (signal.SIGINT, signal.SIGTERM)


class ServerCommand(BaseCommand):
    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="0.0.0.0 lets phones on the same network in")
        parser.add_argument("--port", type=int, default=8000, help="0 takes any that is free")
        parser.add_argument("--tls", action="store_true", help="speak TLS too, by a certificate authority of our own")
        parser.add_argument("--tls-port", type=int, default=8443, help="where; 0 takes any that is free")

    def handle(self, *args: Any, host: str, port: int, tls: bool, tls_port: int, **options: Any) -> None:
        if tls and settings.BEHIND_TLS:
            raise CommandError("BEHIND_TLS says that a proxy speaks TLS: leave out either that or --tls.")
        listener = take_port(host, port)
        tls_listener = take_port(host, tls_port, "--tls-port") if tls else None
        with data_folder():
            self.serve(listener, tls_listener, host, **options)
        self.stdout.write("Stopped.")

    def serve(self, listener: socket.socket, tls_listener: socket.socket | None, host: str, **options: Any) -> None:
        settings.ALLOWED_HOSTS += [name for name in names_of(host) if name not in settings.ALLOWED_HOSTS]
        for number in ENDS:  # also where a shell's background job would ignore a Ctrl-C
            signal.signal(number, end_once)
        with contextlib.suppress(KeyboardInterrupt), contextlib.ExitStack() as beside:
            shown, port = [in_address(name) for name in shown_names(host)], listener.getsockname()[1]
            addresses = [f"http://{name}:{port}" for name in shown]
            if tls_listener:
                settings.TLS_PORT = tls_listener.getsockname()[1]
                settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = True
                addresses = [f"https://{name}:{settings.TLS_PORT}" for name in shown]
            settings.SITE_ADDRESS = settings.SITE_ADDRESS or addresses[-1]
            self.prepare(**options)
            gate = Gate(get_wsgi_application())
            reverse("day-sheet")  # reads in all that pages are made by, which else the first who asks would wait for
            planner = beside.enter_context(contextlib.closing(Planner()))
            beside.enter_context(contextlib.closing(Keeper(gate, planner)))
            beside.enter_context(contextlib.closing(Forerunner(gate)))
            if tls_listener:
                authority = kept_authority(settings.TLS_FOLDER, certified_names(host), timezone.now())
                certifier = Certifier(authority, lambda: certified_names(host))
                tls_server = TlsServer(tls_listener, gate, str(authority.server_file))
                beside.enter_context(tls_server.running())
                beside.enter_context(contextlib.closing(certifier.keep_fresh(tls_server)))
            server = listening(listener, doorstep(gate, settings.TLS_PORT) if tls_listener else gate)
            self.tell(addresses)
            if tls_listener:
                self.say(
                    f"How a phone comes to trust this: http://{shown[-1]}:{port}/trust/",
                    f"Fingerprint of the certificate it takes in: {authority.fingerprint}",
                )
            self.say("Stop with Ctrl-C.")
            let_garbage_wait()
            server.run()  # until Ctrl-C or the end of the service

    def prepare(self, **options: Any) -> None:
        if connection.vendor == "sqlite":
            clear_left_over(settings.BACKUPS)
            self.keep_before_update()
        call_command("migrate", verbosity=0)
        call_command("collectstatic", interactive=False, verbosity=0)
        take_up_left(timezone.now(), alone=connection.vendor == "sqlite")
        if moved := move_unclaimed(settings.DATA / UNCLAIMED, timezone.now(), alone=connection.vendor == "sqlite"):
            self.say(f"{moved} photos or papers that no entry names were moved to {settings.DATA / UNCLAIMED}.")

    def keep_before_update(self) -> None:
        executor = MigrationExecutor(connection)
        to_come = executor.migration_plan(executor.loader.graph.leaf_nodes())
        connection.close()
        if to_come and executor.loader.applied_migrations:
            self.say("An update: a backup comes first …")
            try:
                kept = keep_backup(BEFORE_UPDATE, timezone.now())
            except BackupFailed as error:
                raise CommandError(f"The update was not begun, nothing was changed. {error}") from error
            self.say(f"Kept in {kept.path}.")

    def tell(self, addresses: list[str]) -> None:
        """Say where the pages are, and how to come in."""
        raise NotImplementedError

    def say(self, *lines: str) -> None:
        for line in lines:
            self.stdout.write(line)
        self.stdout.flush()


def end_once(*_: object) -> None:
    """The end of a service is like a Ctrl-C; an impatient second one changes nothing."""
    for number in ENDS:
        signal.signal(number, signal.SIG_IGN)
    raise KeyboardInterrupt


def let_garbage_wait() -> None:
    """Python looks through all that is in use for what is not whenever some hundred values are new: on a page of a
    thousand pieces again and again, a fifth of a second each time. What the site is made of is left out from here on,
    and the rest looked through more rarely."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(25_000, 10, 25)


def take_port(host: str, port: int, option: str = "--port") -> socket.socket:
    """The listening socket. A busy port ends the start before a row is changed."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    if sys.platform != "win32":  # there it would let two programs share one port
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except (OSError, OverflowError) as error:
        listener.close()
        raise CommandError(
            f"Port {port} on {host} cannot be had ({error}). Is another copy running? Choose another with {option}."
        ) from error
    return listener


def names_of(host: str) -> list[str]:
    """The names under which a browser may ask for this server."""
    if host not in EVERYWHERE:
        return [in_address(host)]
    name = socket.gethostname()
    return [name, f"{name}.local", *filter(None, [address_on_network()])]


def certified_names(host: str) -> list[str]:
    """The names and addresses for which the certificate holds: those of this machine, as it is reached now."""
    given = [name for name in settings.ALLOWED_HOSTS if name and not name.startswith((".", "*"))]
    own = names_of(host) if host in EVERYWHERE else [host]
    return sorted({name.strip("[]").lower() for name in (*given, *own) if name.isascii()})


def shown_names(host: str) -> list[str]:
    return ["127.0.0.1", *filter(None, [address_on_network()])] if host in EVERYWHERE else [host]


def address_on_network() -> str | None:
    """This machine's own address as its network sees it; nothing is sent to find it out."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address kept for documentation (RFC 5737)
        except OSError:
            return None
        return probe.getsockname()[0]


def in_address(name: str) -> str:
    return f"[{name}]" if ":" in name else name
