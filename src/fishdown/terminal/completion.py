"""Completion of the command line by the Tab key: the script that a shell reads."""

from __future__ import annotations

import argparse

SHELLS = ("bash", "zsh", "fish")
_FOLDERS, _FILES = {"DIR", "DIR2"}, {"FILE", "FOLDER", "M", "MODEL"}


def script(parser: argparse.ArgumentParser, shell: str) -> str:
    """Return the script that completes commands, options, choices and paths.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        Of the whole command line.
    shell : str
        One of `SHELLS`.
    """
    import shtab

    for action in _actions(parser):
        if action.metavar in _FOLDERS:
            action.complete = shtab.DIRECTORY  # type: ignore[attr-defined]
        elif action.metavar in _FILES:
            # A campaign is a folder or a workbook, a model a name or a file.
            action.complete = shtab.FILE  # type: ignore[attr-defined]
    text: str = shtab.complete(parser, shell)
    return text


def _actions(parser: argparse.ArgumentParser) -> list[argparse.Action]:
    """List the arguments of a parser and of its commands."""
    found = []
    for action in parser._actions:
        found.append(action)
        if isinstance(action, argparse._SubParsersAction):
            for command in action.choices.values():
                found += _actions(command)
    return found
