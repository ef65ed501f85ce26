#!/usr/bin/env python3
"""Looks at every crate the workspace is built from: its licence, and that what must be there once is.

Reads the allowed licences and the banned crates from deny.toml. Needs nothing but Python 3.11.
"""

import json
import pathlib
import re
import subprocess
import sys
import tomllib
from collections import Counter, defaultdict

ROOT = pathlib.Path(__file__).resolve().parent.parent
# Two copies of these would mean two databases, two sets of connections or two ideas of TLS.
ONCE = ["axum", "axum-server", "hyper", "libsqlite3-sys", "ring", "rustls", "sqlx", "sqlx-core", "tokio"]


def is_allowed(expression: str, allowed: set[str]) -> bool:
    """Whether an SPDX expression can be met with allowed licences only.

    >>> is_allowed("MIT OR GPL-3.0-only", {"MIT"})
    True
    >>> is_allowed("MIT AND GPL-3.0-only", {"MIT"})
    False
    >>> is_allowed("Apache-2.0 WITH LLVM-exception OR OpenSSL", {"Apache-2.0"})
    False
    >>> is_allowed("Apache-2.0 WITH LLVM-exception", {"Apache-2.0 WITH LLVM-exception"})
    True
    >>> is_allowed("(MIT OR OpenSSL) AND ISC", {"MIT", "ISC"})
    True
    >>> is_allowed("OpenSSL OR MIT AND ISC", {"MIT", "ISC"})
    True
    >>> is_allowed("MIT/Apache-2.0", {"Apache-2.0"})
    True
    >>> is_allowed("MIT OR", {"MIT"})
    Traceback (most recent call last):
    ...
    ValueError: "MIT OR" is not a licence expression
    """
    words = re.findall(r"[()]|[^\s()]+", expression.replace("/", " OR "))
    position = 0

    def next_is(word: str) -> bool:
        return position < len(words) and words[position].upper() == word

    def take() -> str:
        nonlocal position
        if position == len(words):
            raise ValueError(f'"{expression}" is not a licence expression')
        position += 1
        return words[position - 1]

    def either() -> bool:
        good = both()
        while next_is("OR"):
            take()
            good = both() or good
        return good

    def both() -> bool:
        good = one()
        while next_is("AND"):
            take()
            good = one() and good
        return good

    def one() -> bool:
        word = take()
        if word == "(":
            good = either()
            if take() != ")":
                raise ValueError(f'"{expression}" is not a licence expression')
            return good
        if word.upper() in {"OR", "AND", "WITH", ")"}:
            raise ValueError(f'"{expression}" is not a licence expression')
        if next_is("WITH"):
            take()
            word = f"{word} WITH {take()}"
        return word in allowed

    good = either()
    if position != len(words):
        raise ValueError(f'"{expression}" is not a licence expression')
    return good


def main() -> int:
    rules = tomllib.loads((ROOT / "deny.toml").read_text())
    allowed = set(rules["licenses"]["allow"])
    banned = {entry["crate"]: entry["reason"] for entry in rules["bans"]["deny"]}
    metadata = json.loads(
        subprocess.run(
            ["cargo", "metadata", "--locked", "--format-version", "1"],
            cwd=ROOT,
            check=True,
            stdout=subprocess.PIPE,
        ).stdout
    )
    # What the lock file lists for other platforms or switched-off features is not built, and not counted.
    used = {node["id"] for node in metadata["resolve"]["nodes"]}
    packages = [package for package in metadata["packages"] if package["id"] in used]

    problems = []
    versions = defaultdict(set)
    licences = Counter()
    for package in packages:
        name, version = package["name"], package["version"]
        versions[name].add(version)
        expression = package["license"]
        licences[expression or "none named"] += 1
        try:
            if not expression or not is_allowed(expression, allowed):
                problems.append(f"{name} {version}: licence {expression!r} is not in deny.toml's list")
        except ValueError as unreadable:
            problems.append(f"{name} {version}: {unreadable}")
        if name in banned:
            problems.append(f"{name} {version} may not be used: {banned[name]}")
    for name in ONCE:
        if len(versions[name]) > 1:
            problems.append(f"{name} is there more than once: {', '.join(sorted(versions[name]))}")

    several = {name: found for name, found in versions.items() if len(found) > 1}
    for expression, count in licences.most_common():
        print(f"{count:4}  {expression}")
    print(
        f"licences: {len(packages)} crates under {len(licences)} licence expressions, "
        f"{len(several)} crates in more than one version"
        + (f" ({', '.join(sorted(several))})" if several else "")
        + f"; once at most: {', '.join(ONCE)}"
    )
    for problem in problems:
        print(f"licences: {problem}", file=sys.stderr)
    return 1 if problems else 0


if __name__ == "__main__":
    import doctest

    if doctest.testmod().failed:
        sys.exit(1)
    sys.exit(main())
