#!/usr/bin/python3
"""Two thousand finds with planted faults: see _planted.py. tests/bench has the long form."""
import sys

from _lab import Claims
from _planted import judge


def main():
    claims = Claims()
    judge(claims, 2000, 40, 100, 50)
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
