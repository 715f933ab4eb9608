"""What a library in C writes to the standard output while the solver runs is left aside."""

import subprocess
import sys
import textwrap

import pytest

NOISE = """
import ctypes, os
from clearance.judge.hushed import hushed
libc = ctypes.CDLL(None)
print("first")
with hushed():
    libc.printf(b"held back in C\\n")
    os.write(1, b"written past Python\\n")
    print("said by Python", flush=True)
libc.printf(b"then\\n")
libc.fflush(None)
print("last")
"""


@pytest.mark.skipif(sys.platform == "win32", reason="the C library has another name there")
def test_only_what_is_said_before_and_after_comes_out() -> None:
    ended = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(NOISE)], capture_output=True, text=True, check=True
    )
    assert ended.stdout.split() == ["first", "then", "last"]


def test_without_a_standard_output_nothing_is_amiss() -> None:
    program = """
import os
from clearance.judge.hushed import hushed
os.close(1)
with hushed():
    done = 2 + 2
raise SystemExit(done)
"""
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 4
