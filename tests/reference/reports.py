"""JUnit XML and SARIF of `check`, held against their published schemas.

SARIF: the JSON schema of SARIF 2.1.0 (OASIS), as the crate serde-sarif carries it. JUnit: `junit-10.xsd` (the schema of the Jenkins xUnit
plugin), as pytest's source distribution carries it. Both are had from the package registries.

    python reports.py SCHEMA.json SCHEMA.xsd REPORT...
"""

import json
import sys

import jsonschema
import xmlschema


def main(sarif_schema, junit_schema, *reports):
    with open(sarif_schema, encoding="utf-8") as file:
        sarif = json.load(file)
    validator = jsonschema.validators.validator_for(sarif)(sarif)
    junit = xmlschema.XMLSchema(junit_schema)
    for report in reports:
        if report.endswith(".sarif"):
            with open(report, encoding="utf-8") as file:
                errors = list(validator.iter_errors(json.load(file)))
            for error in errors:
                print(f"{report}: {error.json_path}: {error.message}")
        else:
            errors = list(junit.iter_errors(report))
            for error in errors:
                print(f"{report}: {error.path}: {error.reason}")
        if errors:
            sys.exit(1)
        print(f"{report}: valid")


if __name__ == "__main__":
    main(*sys.argv[1:])
