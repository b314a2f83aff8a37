"""An independent verifier of bundles and archives: `verify.py FILE [--trust T]
[--checkpoint FILE]...`, with the exit statuses of `assize verify` and `assize verify-ledger`.

`verify.py --cases` reads many cases from standard input, as a JSON list of objects with `bundle`
(text) or `archive` (path), `trust` (text) and `checkpoints` (paths), and prints the list of
their exit statuses and lines.
"""

import argparse
import json
import sys
import zipfile
from pathlib import Path

from archive import verify_archive
from bundle import verify_bundle


def _case(case):
    trust = case.get("trust")
    trust = None if trust is None else trust.encode("utf-8", "surrogatepass")
    if "bundle" in case:
        report = verify_bundle(case["bundle"].encode("utf-8", "surrogatepass"), trust)
    else:
        held = [(path, Path(path).read_bytes()) for path in case.get("checkpoints", [])]
        report = verify_archive(case["archive"], held, trust)
    return {"exit": report.exit(), "lines": report.lines}


def main():
    if sys.argv[1:] == ["--cases"]:
        json.dump([_case(case) for case in json.load(sys.stdin)], sys.stdout)
        return 0
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file")
    parser.add_argument("--trust")
    parser.add_argument("--checkpoint", action="append", default=[])
    given = parser.parse_args()
    trust = None if given.trust is None else Path(given.trust).read_bytes()
    if zipfile.is_zipfile(given.file):
        held = [(path, Path(path).read_bytes()) for path in given.checkpoint]
        report = verify_archive(given.file, held, trust)
    else:
        report = verify_bundle(Path(given.file).read_bytes(), trust)
    print("\n".join(report.lines) or "every check passed")
    return report.exit()


if __name__ == "__main__":
    sys.exit(main())
