"""Fetches the published schemas of SARIF and JUnit XML from the package registries into a folder.

SARIF 2.1.0: `schema.json` of the crate serde-sarif 0.8.0. JUnit: `junit-10.xsd` of pytest 8.4.2's source distribution.

    python schemas.py FOLDER
"""

import pathlib
import shutil
import subprocess
import sys
import tarfile

MANIFEST = """[package]
name = "schemas"
version = "0.0.0"
edition = "2024"

[dependencies]
serde-sarif = "=0.8.0"

[workspace]
"""


def sarif(folder):
    """The crate is fetched and laid open by cargo, never built."""
    project = folder / "fetch"
    (project / "src").mkdir(parents=True, exist_ok=True)
    (project / "Cargo.toml").write_text(MANIFEST, encoding="utf-8")
    (project / "src/lib.rs").write_text("", encoding="utf-8")
    subprocess.run(["cargo", "vendor", "--quiet", "vendor"], cwd=project, check=True, stdout=subprocess.DEVNULL)
    shutil.copy(project / "vendor/serde-sarif/src/schema.json", folder / "sarif.json")


def junit(folder):
    """A source distribution is fetched and not installed."""
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--no-binary", ":all:",
               "--disable-pip-version-check", "--dest", str(folder), "pytest==8.4.2"]
    subprocess.run(command, check=True)
    with tarfile.open(folder / "pytest-8.4.2.tar.gz") as archive:
        member = archive.extractfile("pytest-8.4.2/testing/example_scripts/junit-10.xsd")
        (folder / "junit.xsd").write_bytes(member.read())


def main(folder):
    """Both, unless they are there."""
    folder = pathlib.Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    if not (folder / "sarif.json").exists():
        sarif(folder)
    if not (folder / "junit.xsd").exists():
        junit(folder)


if __name__ == "__main__":
    main(*sys.argv[1:])
