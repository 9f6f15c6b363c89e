"""Checks what `check --format sarif` writes with the published schema of SARIF 2.1.0.

    check_sarif.py PROGRAM SCHEMA

With findings of many kinds, with walks, with a file that cannot be read, and with none at all.
"""

import json
import subprocess
import sys
import tempfile
from pathlib import Path

from jsonschema.validators import validator_for

EXAMPLE = "## A bad example\n```yaml\n"


def log_of(program, folder):
    done = subprocess.run(
        [program, "check", str(folder), "--format", "sarif"], stdout=subprocess.PIPE, check=False
    )
    return json.loads(done.stdout)


def bad_examples(folder):
    """Every bad example that loads is a folder of its own, beside the common flows."""
    pages = Path("src/check/pages")
    for page in sorted(pages.glob("*.md")):
        text = page.read_text(encoding="utf-8")
        flows = text.split(EXAMPLE)[1].split("\n```")[0].split("---\n")
        own = folder / page.stem
        own.mkdir()
        for number, flow in enumerate(flows):
            (own / f"example-{number}.yaml").write_text(flow + "\n", encoding="utf-8")
        for common in (pages / "common").glob("*.yaml"):
            (own / common.name).write_bytes(common.read_bytes())
        yield own


def main():
    program, schema = sys.argv[1], json.loads(Path(sys.argv[2]).read_text(encoding="utf-8"))
    validator = validator_for(schema)(schema)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        logs = {page.name: log_of(program, page) for page in bad_examples(folder)}
        unreadable = folder / "no text"
        unreadable.mkdir()
        (unreadable / "a flow.yaml").write_bytes(b"flow: \xff\n")
        logs["no text"] = log_of(program, unreadable)
    logs["shipped"] = log_of(program, "flows")
    faults = 0
    for name, log in logs.items():
        for fault in validator.iter_errors(log):
            faults += 1
            print(f"{name}: {fault.json_path}: {fault.message[:200]}")
    results = [result for log in logs.values() for result in log["runs"][0]["results"]]
    rules = {result["ruleId"] for result in results}
    walks = sum("codeFlows" in result for result in results)
    # A schema that lets everything through would check nothing.
    spoilt = dict(logs["shipped"], version="2.0.0")
    good = not faults and not validator.is_valid(spoilt) and len(rules) > 30 and walks > 5
    print(f"{len(logs)} SARIF logs, {len(rules)} rules, {walks} walks, {faults} faults")
    sys.exit(0 if good else 1)


main()
