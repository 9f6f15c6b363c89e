"""Checks the OpenAPI document of the API with an independent validator.

    check_openapi.py PROGRAM

The document must be valid OpenAPI 3.1, its references must lead somewhere, and documents with one
fault each must not be valid.
"""

import copy
import json
import subprocess
import sys

from openapi_spec_validator import OpenAPIV31SpecValidator


def without_description(document):
    del operation(document)["responses"]["200"]["description"]


def twice_the_same_id(document):
    of_job = document["paths"]["/api/v1/jobs/{job}"]["get"]
    of_job["operationId"] = operation(document)["operationId"]


def undeclared_in_the_path(document):
    document["paths"]["/api/v1/jobs/{job}"]["get"]["parameters"] = []


def parameter_from_nowhere(document):
    operation(document)["parameters"][0]["in"] = "letter"


def reference_to_nothing(document):
    del document["components"]["schemas"]["Job"]


def key_of_nobody(document):
    operation(document)["summry"] = "Jobs"


FAULTS = [
    without_description,
    twice_the_same_id,
    undeclared_in_the_path,
    parameter_from_nowhere,
    reference_to_nothing,
    key_of_nobody,
]


def operation(document):
    return document["paths"]["/api/v1/jobs"]["get"]


def faults(document):
    try:
        return [error.message[:200] for error in OpenAPIV31SpecValidator(document).iter_errors()]
    # A reference that leads nowhere is raised by the library that follows it.
    except Exception as error:
        return [f"{type(error).__name__}: {error}"[:200]]


def main():
    document = json.loads(subprocess.check_output([sys.argv[1], "schema", "api"]))
    found = faults(document)
    for fault in found:
        print(fault)
    good = not found
    for spoil in FAULTS:
        spoiled = copy.deepcopy(document)
        spoil(spoiled)
        if not faults(spoiled):
            print(f"still valid: {spoil.__name__}")
            good = False
    operations = sum(len(methods) for methods in document["paths"].values())
    print(f"{operations} operations are described validly, {len(FAULTS)} faults were tried")
    sys.exit(0 if good and operations > 20 else 1)


main()
