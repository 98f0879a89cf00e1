"""What a scheduler needs to know of a night: its command, and the paths that it reads and writes."""

from __future__ import annotations

import getpass
import sys
from dataclasses import dataclass
from itertools import takewhile
from pathlib import Path
from urllib.parse import unquote

from draincurve.schemas.delivery_settings import DeliverySettings, ScheduleSettings
from draincurve.schemas.errors import SettingsError
from draincurve.schemas.nightly_settings import NightlyFile


@dataclass(frozen=True, slots=True)
class NightJob:
    """One scheduled night; all paths are absolute and without control characters.

    command : program and its arguments
    writes : folders it writes into; reads : files and folders it reads
    variables : environment variables that the settings name for secrets
    variables_file : may set those variables
    networked : whether it connects to other machines
    user : account that it runs as
    """

    command: tuple[str, ...]
    writes: tuple[Path, ...]
    reads: tuple[Path, ...]
    variables: tuple[str, ...]
    variables_file: Path
    networked: bool
    user: str
    schedule: ScheduleSettings

    @property
    def paths(self) -> tuple[Path, ...]:
        """Every path that it uses."""
        return (Path(self.command[0]), *self.reads, *self.writes)

    @property
    def missing(self) -> tuple[Path, ...]:
        """Folders to create before the first night, since it may write nowhere else."""
        return tuple(folder for folder in self.writes if not folder.is_dir())


def night_job(file: NightlyFile) -> NightJob:
    """The scheduled job of a settings file, for the installation that is running now.

    Raises SettingsError for a path that no timer file can hold, and where no day of the week is named.
    """
    settings, delivery = file.settings, file.settings.delivery
    if not settings.schedule.days:
        raise SettingsError(f"{file.path}: [schedule] days is empty; name a day, such as days = ['Mon', 'Thu']")
    sources = [settings.sources.log or "", *settings.sources.sides.values()]
    if settings.publish.address is not None:
        sources.append(settings.publish.address)
    files = [path for source in sources if (path := _source_file(file.base, source)) is not None]
    metrics = [] if delivery.metrics.file is None else [_within(file.base, delivery.metrics.file).parent]
    job = NightJob(
        command=(*_program(), "nightly", str(file.path.absolute())),
        writes=tuple(dict.fromkeys([file.output_folder, *metrics])),
        reads=tuple(
            dict.fromkeys([file.path.absolute(), *_installation(), *files, *_named_files(file.base, delivery)])
        ),
        variables=_variables(delivery, with_server=any(map(_is_server, sources))),
        variables_file=file.base / f"{file.path.stem}.env",
        networked=_leaves_this_machine(sources, delivery),
        user=settings.schedule.user or _own_account(file.path),
        schedule=settings.schedule,
    )
    for text in (*job.command, *map(str, job.paths), str(job.variables_file)):
        if not text.isprintable():
            raise SettingsError(f"{text!r}: holds a control character; give it a name that a timer file can hold")
    return job


def _program() -> tuple[str, ...]:
    """The command of this installation by its full path."""
    script = Path(sys.executable).with_name("draincurve")
    if script.is_file():
        return (str(script),)
    return (sys.executable, "-c", "from draincurve.cli import main; main()")


def _installation() -> tuple[Path, ...]:
    """Folders that hold Python, its libraries and this program; any of them may be in somebody's home."""
    return (Path(sys.prefix), Path(sys.base_prefix), Path(__file__).parents[3])


def _own_account(settings: Path) -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError) as fault:
        raise SettingsError(
            f"{settings}: [schedule] names no user, and this one has no name; add user = 'bench'"
        ) from (fault)


def _source_file(base: Path, source: str) -> Path | None:
    """The file, or the folder above a pattern, that a source is read from; None for a server.

    The forms are those of `source_address`, which is not used here because it loads the libraries that read tables.
    """
    if _is_server(source):
        return None
    scheme, _, rest = source.partition(":")
    if scheme.casefold() == "sqlite":
        return _within(base, unquote(rest.partition("#")[0].removeprefix("//")))
    return Path(*takewhile(lambda part: not set(part) & set("*?["), _within(base, source).parts))


def _is_server(source: str) -> bool:
    return source.casefold().startswith(("postgresql:", "postgres:"))


def _named_files(base: Path, delivery: DeliverySettings) -> list[Path]:
    """Certificates and secrets that the settings name as files."""
    mail, hook = delivery.mail, delivery.webhook
    names = (
        mail.ca_file,
        mail.user_file,
        mail.password_file,
        hook.ca_file,
        hook.url_file,
        hook.token_file,
        hook.signing_key_file,
    )
    return [_within(base, name) for name in names if name is not None]


def _variables(delivery: DeliverySettings, *, with_server: bool) -> tuple[str, ...]:
    """Environment variables for secrets; the password of a database server has its own."""
    mail, hook = delivery.mail, delivery.webhook
    names = (mail.user_env, mail.password_env, hook.url_env, hook.token_env, hook.signing_key_env)
    named = [name for name in names if name is not None]
    return tuple(dict.fromkeys([*named, "PGPASSWORD"] if with_server else named))


def _leaves_this_machine(sources: list[str], delivery: DeliverySettings) -> bool:
    hook = delivery.webhook
    posts = hook.url is not None or hook.url_env is not None or hook.url_file is not None
    return any(map(_is_server, sources)) or posts or delivery.mail.host is not None


def _within(base: Path, named: str) -> Path:
    return base / Path(named).expanduser()
