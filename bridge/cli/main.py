"""Run one command and turn whatever happens into an exit code and a message.

0 done; 1 the music cannot be satisfied; 2 bad usage or a bad file; 3 a host, port
or device failed; 4 a fault of ours; 130 interrupted.  This file knows no command:
they stand in :mod:`bridge.cli.table`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from importlib import import_module
from typing import Any

from bridge.cli.output import print_json, show_error
from bridge.cli.plain_words import read_plainly
from bridge.cli.table import COMMANDS
from bridge.errors import PulsebridgeError, UsageError

__all__ = ["main", "run"]

_INTERRUPTED = 130


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command in ``argv`` (default: the process's own) and return its exit code."""
    words = list(sys.argv[1:] if argv is None else argv)
    as_json = "--json" in words
    try:
        return _run(words)
    except PulsebridgeError as error:
        return _tell(error, as_json)
    except KeyboardInterrupt:
        return _INTERRUPTED
    except BrokenPipeError:
        _close_stdout_quietly()
        return 0
    except Exception as error:  # noqa: BLE001  the last line of defence: a report, no traceback
        from bridge.cli.report import write_report

        return _tell(write_report(error, words), as_json)


def run() -> None:
    """Run :func:`main` as the console script and leave with its exit code."""
    sys.exit(main())


def _run(words: list[str]) -> int:
    if not words or words[0] in ("--help", "-h", "help"):
        sys.stdout.write(_overview())
        return 0
    if words[0] == "--version":
        from importlib.metadata import version

        sys.stdout.write(f"pulsebridge {version('pulsebridge')}\n")
        return 0
    name = words[0]
    if name not in COMMANDS:
        raise _unknown(name)
    return _call(name, words[1:])


def _call(name: str, words: list[str]) -> int:
    command = import_module(COMMANDS[name][0]).command
    given = read_plainly(command, words)
    result = _through_typer(command, name, words) if given is None else command(**given)
    return result if isinstance(result, int) else 0


def _through_typer(command: Callable[..., Any], name: str, words: list[str]) -> object:
    import typer
    from typer.main import get_command

    app = typer.Typer(add_completion=False, rich_markup_mode=None)
    app.command(name)(command)
    try:
        return get_command(app).main(args=words, prog_name=f"pulsebridge {name}", standalone_mode=False)
    except typer.Abort:
        return _INTERRUPTED
    except SystemExit:  # the library's own answer to a reader of stdout that has gone
        raise BrokenPipeError from None
    except typer.TyperException as error:
        raise UsageError(error.format_message(), hint=f"See 'pulsebridge {name} --help'.") from None


def _unknown(name: str) -> UsageError:
    from difflib import get_close_matches

    near = get_close_matches(name, COMMANDS, n=1)
    hint = f"Did you mean '{near[0]}'? " if near else ""
    return UsageError(
        f"there is no command {name[:40]!r}; there are {', '.join(COMMANDS)}",
        hint=f"{hint}See 'pulsebridge --help'.",
    )


def _overview() -> str:
    width = max(map(len, COMMANDS))
    lines = [
        "pulsebridge: the lengths at which all parts land on the one together,",
        "the whole song planned from them, and the way into your host.",
        "",
        "Use: pulsebridge COMMAND ...        pulsebridge COMMAND --help",
        "",
        *(f"  {name:<{width}}  {text}" for name, (_, text) in COMMANDS.items()),
        "",
        "Start here: pulsebridge demo",
        "",
        "Exit codes: 0 done; 1 the music cannot be satisfied; 2 bad usage or a bad file;",
        "3 a host, port or device failed; 4 a fault of ours; 130 interrupted.",
    ]
    return "\n".join(lines) + "\n"


def _tell(error: PulsebridgeError, as_json: bool) -> int:
    show_error(error)
    if as_json:
        print_json({"error": _fields(error)})
    return error.exit_code


def _fields(error: PulsebridgeError) -> dict[str, object]:
    message = f"{error.message}\n{error.hint}" if error.hint else error.message
    where = error.where
    return {
        "kind": error.kind,
        "message": message,
        "line": where.line if where else None,
        "column": where.column if where else None,
    }


def _close_stdout_quietly() -> None:
    """Keep the interpreter from complaining at exit that its reader has gone."""
    import os

    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
