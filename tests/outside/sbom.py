"""Write the list of the program's parts (SBOM) and look whether it is one.

What it checks
    `cargo cyclonedx` writes a list that CycloneDX's own schema accepts, that has
    each crate of the program and no other but of Cargo.lock, each with its version,
    licence and the SHA-256 of Cargo.lock, and that has the same bytes a second time.
    Those few that the program is not built from are printed: Cargo's metadata, which
    the list is made of, does not say which feature brings a crate.

Against which outside sources
    * The JSON schema of CycloneDX 1.5, as PyPI `cyclonedx-python-lib` has it.
    * `cargo tree`, for what the program is built from.

    python sbom.py
    python sbom.py --out kitwright.cdx.json
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator

from oracle import Tally

ROOT = Path(__file__).parents[2]
NAME = "kitwright.cdx.json"
# All systems, as in deny.toml; crates that only tests use are no part of the program.
SETTINGS = "--format json --spec-version 1.5 --target all --quiet".split()


def write_list(folder):
    """The list is written beside Cargo.toml, so it is made of a copy."""
    for name in ("Cargo.toml", "Cargo.lock"):
        shutil.copy(ROOT / name, folder / name)
    for name in ("src", "benches"):
        shutil.copytree(ROOT / name, folder / name, dirs_exist_ok=True)
    environment = {**os.environ, "SOURCE_DATE_EPOCH": "0"}
    done = subprocess.run(
        ["cargo", "cyclonedx", *SETTINGS],
        cwd=folder, env=environment, capture_output=True, check=False, timeout=600,
        stdin=subprocess.DEVNULL, text=True,
    )
    if done.returncode != 0 or not (folder / NAME).is_file():
        sys.exit(
            f"`cargo cyclonedx` ended with {done.returncode}\n{done.stderr}\n"
            "it comes with: cargo install cargo-cyclonedx --version 0.5.9 --locked"
        )
    return (folder / NAME).read_text(encoding="utf-8")


def crates_of_tree():
    """{name version} of all that is compiled into the program or runs while it is built."""
    done = subprocess.run(
        ["cargo", "tree", "--locked", "--edges", "normal,build", "--target", "all",
         "--prefix", "none", "--format", "{p}"],
        cwd=ROOT, capture_output=True, check=True, timeout=600, text=True,
    )
    found = {" ".join(line.split()[:2]) for line in done.stdout.splitlines() if line}
    return {name.replace(" v", " ") for name in found}


def checksums():
    """{name version: SHA-256} of Cargo.lock; the program itself has none."""
    lock = tomllib.loads((ROOT / "Cargo.lock").read_text(encoding="utf-8"))
    return {
        f"{package['name']} {package['version']}": package.get("checksum")
        for package in lock["package"]
    }


def component_faults(component, sums):
    name = f"{component['name']} {component['version']}"
    faults = []
    if not component.get("licenses"):
        faults.append("it has no licence")
    if not component.get("purl", "").startswith(f"pkg:cargo/{component['name']}@"):
        faults.append(f"its purl is {component.get('purl')}")
    found = [
        hashed["content"] for hashed in component.get("hashes", []) if hashed["alg"] == "SHA-256"
    ]
    if found != [sums.get(name)]:
        faults.append(f"its hash is {found}, expected {sums.get(name)}")
    return faults


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, help="keeps the list here, if it is sound")
    options = parser.parse_args()
    tally = Tally(20)
    with tempfile.TemporaryDirectory() as folder:
        text = write_list(Path(folder))
        again = write_list(Path(folder))
    tally.record("a second list", [] if again == text else ["it has other bytes"])
    fault = JsonStrictValidator(SchemaVersion.V1_5).validate_str(text)
    tally.record("the schema of CycloneDX 1.5", [str(fault)] if fault else [])

    listed = json.loads(text)
    program = listed["metadata"]["component"]
    tally.record(
        "the program itself",
        [] if program["name"] == "kitwright" else [f"it is called {program['name']}"],
    )
    sums = checksums()
    found = {}
    for component in listed["components"]:
        name = f"{component['name']} {component['version']}"
        found[name] = component
        tally.record(name, component_faults(component, sums))
    tree = crates_of_tree() - {f"kitwright {program['version']}"}
    for name in sorted(tree - found.keys()):
        tally.record(name, ["the list does not have it"])
    if more := sorted(found.keys() - tree):
        print("listed beside what the program is built from:", ", ".join(more))
    if options.out and not tally.failed:
        options.out.write_text(text, encoding="utf-8")
        print(f"{len(found)} parts in {options.out}")
    return tally.close()


if __name__ == "__main__":
    sys.exit(main())
