#!/bin/sh
# The short form of tests/crash/kill_intake.py (make crash runs 200).
CRASH_RUNS=12 CRASH_ROWS=800 exec /usr/bin/python3 tests/crash/kill_intake.py
