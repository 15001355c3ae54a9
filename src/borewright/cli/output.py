"""What every command shares: parsing that speaks our error grammar, JSON out, errors in."""

from __future__ import annotations

import argparse
import json
import re
import sys
from types import ModuleType
from typing import Any

from borewright.errors import BadInput, BorewrightError

__all__ = ["print_json", "run_command"]


class _Parser(argparse.ArgumentParser):
    def __init__(self, *arguments: Any, **options: Any):
        super().__init__(*arguments, **options)
        # A place in the south begins with a minus: "--at -27.5,152.9" is a value and not an option.
        self._negative_number_matcher = re.compile(r"^-\.?\d[\d.,eE+ \-]*$")

    def error(self, message: str) -> Any:
        raise BadInput("command line", " ".join(sys.argv[1:]), message, f"what `{self.prog} --help` shows")


def print_json(value: Any) -> None:
    """Print one JSON document on one line; a number that is not finite never leaves as JSON."""
    print(json.dumps(value, ensure_ascii=False, allow_nan=False))


def run_command(name: str, words: list[str], module: ModuleType, text: str) -> int:
    """Parse and run one command; return 0, 2 for bad input, 1 for what could not be done."""
    suffix = name.replace("-", "_")
    parser = _Parser(prog=f"borewright {name}", description=text[:1].upper() + text[1:] + ".")
    parser.add_argument("--debug", action="store_true", help=argparse.SUPPRESS)
    try:
        getattr(module, f"add_{suffix}")(parser)
        arguments = parser.parse_args(words)
        return int(getattr(module, f"run_{suffix}")(arguments) or 0)
    except BorewrightError as error:
        if "--debug" in words:
            raise
        return _tell(error, "--json" in words)
    except BrokenPipeError:
        return 0
    except KeyboardInterrupt:
        print("borewright: stopped", file=sys.stderr)
        return 130


def _tell(error: BorewrightError, as_json: bool) -> int:
    if isinstance(error, BadInput):
        code, body = 2, error.as_dict()
    else:
        code, body = 1, {"field": None, "value": None, "problem": str(error), "want": None}
    if as_json:
        # On both streams: a reader of standard output always finds one JSON document, one of standard error one line.
        print_json({"error": body})
        print(json.dumps({"error": body}, ensure_ascii=False), file=sys.stderr)
    else:
        print("borewright: " + " ".join(str(error).split()), file=sys.stderr)
    return code
