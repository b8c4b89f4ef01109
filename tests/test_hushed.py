"""What a library prints from within stays off the output, and what the program prints does not."""

from __future__ import annotations

import ctypes
import os

import pytest

from fieldkit.hushed import hushed


@pytest.mark.skipif(os.name != "posix", reason="the C library's own output is only caught there")
def test_what_a_library_prints_from_within_is_kept_off_the_output(capfd: pytest.CaptureFixture[str]) -> None:
    """Printed by the C library under the options' nose; before and after it, print and the C library both reach the user."""
    library = ctypes.CDLL(None)
    print("before")
    with hushed():
        library.puts(b"from within")
    library.puts(b"after")
    library.fflush(None)
    assert capfd.readouterr().out.split() == ["before", "after"]
