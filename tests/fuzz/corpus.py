"""The corpus that is kept: tests/fuzz_seeds/TARGET.jsonl, an input a line, its bytes as a JSON string of latin-1 letters.

    python3 tests/fuzz/corpus.py unpack TARGET FOLDER     files for libFuzzer
    python3 tests/fuzz/corpus.py pack TARGET FOLDER       a minimised folder becomes what is kept,
                                                          the smallest inputs first, as far as MOST bytes go
"""

import hashlib
import json
import pathlib
import sys

MOST = 28_000

what, target, folder = sys.argv[1], sys.argv[2], pathlib.Path(sys.argv[3])
kept = pathlib.Path(__file__).parent.parent / "fuzz_seeds" / f"{target}.jsonl"
if what == "unpack":
    folder.mkdir(parents=True, exist_ok=True)
    for line in kept.read_text("ascii").splitlines():
        data = json.loads(line).encode("latin-1")
        (folder / hashlib.sha1(data).hexdigest()).write_bytes(data)
elif what == "pack":
    inputs = sorted((file.read_bytes() for file in folder.iterdir()), key=lambda data: (len(data), data))
    lines, size = [], 0
    for data in inputs:
        line = json.dumps(data.decode("latin-1")) + "\n"
        size += len(line)
        if size <= MOST:
            lines.append(line)
    kept.write_text("".join(lines), "ascii")
    print(f"{kept}: {len(lines)} of {len(inputs)} inputs, {kept.stat().st_size} bytes")
else:
    sys.exit(__doc__)
