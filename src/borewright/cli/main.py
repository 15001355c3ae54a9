"""The command line's front door: find the command, load only what it needs, turn errors into one line."""

from __future__ import annotations

import sys
from importlib import import_module

# name -> (module under borewright.cli, one line of help). The module offers add_<name>(parser) and run_<name>(arguments),
# with - in the name written _. Nothing is imported until its command is called: `--help` must be instant.
COMMANDS: dict[str, tuple[str, str]] = {
    "demo": ("demo", "run the main job end to end on the invented demo district"),
    "serve": ("serve", "open the web app on this machine (or the local network with --lan)"),
    "jobs": ("jobs", "list jobs, show one, or start one"),
    "register": ("siting", "load, list or prove a register of other bores"),
    "odds": ("siting", "odds of enough water at a spot, by depth"),
    "quote": ("pricing", "price a job: metres, hours, money, and the promise"),
    "rigcard": ("pricing", "the stop rule of a job on one page"),
    "design": ("construction", "casing, slots, seal and grout of a job, checked at each stage"),
    "levels": ("levels", "read a logger's or hand-kept file into levels for a test"),
    "pumptest": ("hydraulics", "fit a constant-rate or recovery test"),
    "steptest": ("hydraulics", "fit a step test: aquifer loss, well loss, efficiency"),
    "slug": ("hydraulics", "hydraulic conductivity from a slug or bail test"),
    "testplan": ("testplan", "plan a pumping test: steps, length, pump, when to read"),
    "effects": ("testplan", "what pumping does to bores and streams nearby"),
    "rate": ("hydraulics", "the flow a bore can give for years, with its band"),
    "pump": ("pumpwater", "the pump for a rated bore: duty, pipes, cable, cost"),
    "demand": ("supply", "is this bore enough: water wanted, the dry spell, the tank"),
    "sun": ("supply", "what the chosen pump lifts by the sun in each month"),
    "water": ("pumpwater", "an analysis against the guidelines for its use"),
    "owner": ("owner", "the years of a bore: readings, trends, a warning before the intake"),
    "stock": ("stock", "what to order for the accepted jobs, less what the yard holds"),
    "photo": ("photo", "add, list or write out the photos of a job"),
    "papers": ("papers", "make the documents of a job"),
    "bench": ("bench", "single calculations: list them, or run one"),
    "export": ("exchange", "write a job in an open format"),
    "import": ("exchange", "read a job from an open format"),
    "backup": ("store", "write a verified copy of everything"),
    "restore": ("store", "bring a backup back"),
    "check": ("store", "verify every entry, hash and projection"),
    "where": ("store", "say where the data is kept"),
}


def _help() -> str:
    width = max(map(len, COMMANDS))
    lines = [f"  {name:<{width}}  {text}" for name, (_, text) in COMMANDS.items()]
    return (
        "usage: borewright [--home DIR] COMMAND ...\n\n"
        "Carries a water bore from the first phone call to the handover papers.\n\n"
        "commands:\n" + "\n".join(lines) + "\n\n"
        "borewright COMMAND --help explains one command. Data is kept in the folder that `borewright where` names;\n"
        "--home DIR or the variable BOREWRIGHT_HOME puts it elsewhere. Bad input ends with exit code 2 and one line.\n"
    )


def main(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit code: 0, 1 for a refusal or failure, 2 for bad input."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    home = None
    while words and words[0].startswith("--home"):
        first = words.pop(0)
        if first.startswith("--home="):
            home = first.partition("=")[2]
        elif first == "--home" and words:
            home = words.pop(0)
        else:
            print("borewright: --home: needs a folder (got nothing; want --home DIR)", file=sys.stderr)
            return 2
    if not words or words[0] in ("-h", "--help", "help"):
        print(_help(), end="")
        return 0 if words else 2
    if words[0] in ("-V", "--version"):
        from borewright import __version__

        print(f"borewright {__version__}")
        return 0
    name = words[0]
    if name not in COMMANDS:
        print(f"borewright: command: is not known (got {name!r}; want one of {', '.join(COMMANDS)})", file=sys.stderr)
        return 2
    from borewright.cli.output import run_command

    if home is not None:
        import os

        os.environ["BOREWRIGHT_HOME"] = home
    module = import_module(f"borewright.cli.{COMMANDS[name][0]}")
    return run_command(name, words[1:], module, COMMANDS[name][1])


if __name__ == "__main__":
    raise SystemExit(main())
