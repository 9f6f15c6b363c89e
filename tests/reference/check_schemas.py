"""Checks the printed schemas with an independent JSON Schema library.

    check_schemas.py PROGRAM

Everything shipped must fit its schema (draft 2020-12), and files with one fault each must not.
The keys alone are compared with the loader's by a plain `cargo test`.
"""

import json
import subprocess
import sys
from io import StringIO
from pathlib import Path

from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

# A text of a file that fits, and what makes it a fault.
FLOW_FAULTS = [
    ("    hands_off: true\n    caution", "    caution"),
    ("    hands_off: true\n    caution", "    hands_off: true\n    coution: x\n    caution"),
    ("choose: lead", "choose: lead\n    tell: Go on"),
    ("choose: lead", "chose: lead"),
    ("touches: [fan_circuit]", "touches: [fan_circuit]\n    hands_off: true"),
    ("fan_circuit: opened", "fan_circuit: ajar"),
    ("measures: voltage", "measures: tension"),
    ("kind: electrical", "kind: magic"),
    ("hold: electrician", "hold: wizard"),
    ("limit: absence_of_voltage_limit", "limit: nothing_known"),
    ("    not_dead: open_it\n", ""),
    ("start: look\n", ""),
    ("language: en", "language: en\nlangage: en"),
]
KIT_FAULTS = [("motor: ec", "motor: steam"), ("plug:", "plugg:"), ("    title:", "    t:")]
BOOK_FAULTS = [("speed: 1550 rpm", "speed: 1550 rpm\n    air_flow: 500 cfm")]


def read(text):
    return YAML(typ="safe", pure=True).load(StringIO(text))


def validator(program, of):
    schema = json.loads(subprocess.check_output([program, "schema", of]))
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


def must_fit(schema, file):
    faults = list(schema.iter_errors(read(file.read_text(encoding="utf-8"))))
    for fault in faults:
        print(f"{file}: {fault.json_path}: {fault.message[:200]}")
    return not faults


def must_not_fit(schema, file, faults):
    text = file.read_text(encoding="utf-8")
    good = True
    for right, wrong in faults:
        if right not in text:
            print(f"{file} has no {right!r} any more")
            good = False
        elif schema.is_valid(read(text.replace(right, wrong, 1))):
            print(f"{file} still fits with {wrong!r} for {right!r}")
            good = False
    return good


def main():
    program = sys.argv[1]
    flow, kit, book = (validator(program, of) for of in ("flow", "kit", "speed-book"))
    flows = sorted(Path("flows").glob("*.yaml"))
    small = Path("tests/draw/small.yaml")
    kit_file, book_file = Path("flows/demo/kit.yaml"), Path("flows/demo/speed-book.yaml")
    done = [must_fit(flow, file) for file in [*flows, small]]
    done += [must_fit(kit, kit_file), must_fit(book, book_file)]
    done += [
        must_not_fit(flow, small, FLOW_FAULTS),
        must_not_fit(kit, kit_file, KIT_FAULTS),
        must_not_fit(book, book_file, BOOK_FAULTS),
    ]
    faults = len(FLOW_FAULTS) + len(KIT_FAULTS) + len(BOOK_FAULTS)
    print(f"{len(flows) + 3} files fit their schema, {faults} faults were tried")
    sys.exit(0 if len(flows) > 10 and all(done) else 1)


main()
