"""Linear algebra kept to one thread where matrices are small, and work that is done beside other work."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from functools import lru_cache
from typing import TypeVar

__all__ = ["beside", "one_thread"]

Found = TypeVar("Found")


def beside(work: Callable[[], Found]) -> Future[Found]:
    """Begin work on a thread of its own and return what its result is asked of.

    It gains time where the work is done in large steps by libraries that leave the interpreter to others meanwhile.
    """
    helper = ThreadPoolExecutor(1)
    begun = helper.submit(work)
    helper.shutdown(wait=False)
    return begun


class one_thread:  # noqa: N801  (used as a function)
    """A context in which linear algebra stays on one thread.

    Matrices of a few hundred rows gain little from more, and on a busy machine threads that wait for one another cost
    tens of times the work.
    """

    __slots__ = ("before",)

    def __enter__(self) -> None:
        self.before = [library.get_num_threads() for library in _libraries()]
        for library, threads in zip(_libraries(), self.before, strict=True):
            if threads != 1:
                library.set_num_threads(1)

    def __exit__(self, *_: object) -> None:
        for library, threads in zip(_libraries(), self.before, strict=True):
            if threads != 1:
                library.set_num_threads(threads)


@lru_cache(maxsize=1)
def _libraries() -> list:
    """Return the controllers of the libraries of linear algebra."""
    import scipy.linalg  # noqa: F401  (its library must be there to be found)

    try:
        from threadpoolctl import ThreadpoolController
    except ImportError:
        return []
    return ThreadpoolController().select(user_api="blas").lib_controllers
