"""Playwright's expectations, with the patience that a slow machine needs: what a tap brings up is waited for, never just looked at."""

from playwright.sync_api import expect

expect.set_options(timeout=20_000)
__all__ = ["expect"]
