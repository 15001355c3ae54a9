"""Sets an authority's own template in a process of its own, with a bound on its memory: what a template asks for must not end the program.

Run as a file with the order as JSON on standard input; the PDF comes on standard output, and what is wrong in one line on standard error.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

__all__ = ["set_apart"]

MOST_MEMORY = 3 * 2**30  # bytes of address space, of which a form that is sound uses a twentieth
MOST_SECONDS = 90.0


def set_apart(folder: Path, fonts: list[str], data: dict[str, Any], timestamp: int) -> bytes:
    """Return the PDF of a folder's form.typ; RuntimeError with one line where it cannot be set, takes too long or asks for too much memory."""
    order = json.dumps({"folder": str(folder), "fonts": fonts, "data": json.dumps(data, ensure_ascii=False), "timestamp": timestamp, "memory": MOST_MEMORY})
    try:
        done = subprocess.run([sys.executable, "-I", __file__], input=order.encode(), capture_output=True, timeout=MOST_SECONDS, check=False)
    except subprocess.TimeoutExpired:
        raise RuntimeError(f"it was not done after {MOST_SECONDS:g} seconds") from None
    if done.returncode == 0 and done.stdout.startswith(b"%PDF"):
        return done.stdout
    said = done.stderr.decode(errors="replace").strip().splitlines()
    raise RuntimeError(said[0] if done.returncode == 1 and said else "it asked for more memory than a form may have, or ended the program that sets it")


def _main() -> int:
    order = json.load(sys.stdin.buffer)
    try:
        import resource
    except ImportError:  # Windows has no such bound: there the process alone keeps the program from ending
        pass
    else:
        resource.setrlimit(resource.RLIMIT_AS, (order["memory"], order["memory"]))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    import typst

    try:
        fonts = typst.Fonts(include_system_fonts=False, font_paths=order["fonts"])
        compiler = typst.Compiler(input=str(Path(order["folder"]) / "form.typ"), root=order["folder"], font_paths=fonts, ignore_system_fonts=True)
        made = compiler.compile(format="pdf", sys_inputs={"data": order["data"]}, timestamp=order["timestamp"])
    except (typst.TypstError, RuntimeError) as error:
        print(str(error).splitlines()[0], file=sys.stderr)
        return 1
    sys.stdout.buffer.write(bytes(made))
    return 0


if __name__ == "__main__":
    sys.exit(_main())
