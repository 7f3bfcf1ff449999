//! What DEVELOPERS.md claims and code can look up: that each test of the safety case is
//! there, that each file it names is, and that the table of dependencies is the one of
//! `Cargo.toml`.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn read(name: &str) -> String {
    std::fs::read_to_string(root().join(name))
        .unwrap_or_else(|why| panic!("{name}: {why}"))
}

/// The rows of the first table below a heading, each as its cells.
fn table(heading: &str) -> Vec<Vec<String>> {
    let text = read("DEVELOPERS.md");
    let (_, section) = text
        .split_once(&format!("\n## {heading}\n"))
        .unwrap_or_else(|| panic!("DEVELOPERS.md has no section {heading}"));
    let rows: Vec<Vec<String>> = section
        .lines()
        .skip_while(|line| !line.starts_with('|'))
        .take_while(|line| line.starts_with('|'))
        .skip(2)
        .map(|line| {
            let cells = line.trim_matches('|').split('|');
            cells.map(|cell| cell.trim().to_owned()).collect()
        })
        .collect();
    assert!(!rows.is_empty(), "{heading} has no table");
    rows
}

/// What stands between backticks.
fn quoted(text: &str) -> impl Iterator<Item = &str> {
    text.split('`').skip(1).step_by(2)
}

/// Whether `name` is a test in the source `text` that is run: `#[test]` stands before
/// it, and nothing says to ignore it.
fn is_test(text: &str, name: &str) -> bool {
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    let begins = format!("fn {name}(");
    let Some(at) = lines.iter().position(|line| line.starts_with(&begins)) else {
        return false;
    };
    let above = lines[..at].iter().rev();
    let attributes: Vec<&&str> = above
        .take_while(|line| line.starts_with("#[") || line.starts_with("//"))
        .collect();
    attributes.iter().any(|line| **line == "#[test]")
        && !attributes.iter().any(|line| line.starts_with("#[ignore"))
}

/// Whether cargo builds the test file: `tests/runs/piles.rs` must be a module of
/// `tests/runs.rs`.
fn is_built(file: &str) -> bool {
    let parts: Vec<&str> = file.trim_end_matches(".rs").split('/').collect();
    match parts[..] {
        ["tests", folder, module] => {
            read(&format!("tests/{folder}.rs")).contains(&format!("mod {module};"))
        }
        _ => true,
    }
}

/// What is wrong with one claim of the column "shown by".
fn fault(claim: &str) -> Option<String> {
    if claim.starts_with("tests/outside/") {
        let name = Path::new(claim).file_name()?.to_string_lossy().into_owned();
        let there = root().join(claim).is_file();
        let runs = read(".ci/run").contains(&format!("tests/outside/{name}"));
        return (!there || !runs)
            .then(|| format!("{claim} is not there, or .ci/run has it not"));
    }
    let Some((file, name)) = claim.split_once("::") else {
        return Some(format!("{claim} is not written as file::test"));
    };
    if !root().join(file).is_file() || !is_built(file) {
        return Some(format!("{file} is not there, or is not built"));
    }
    (!is_test(&read(file), name)).then(|| format!("{file} has no test {name}"))
}

#[test]
fn every_hazard_names_tests_that_are_there_and_what_remains() {
    let mut wrong = Vec::new();
    let rows = table("Safety case");
    for row in &rows {
        let [hazard, prevented, shown, remains] = &row[..] else {
            panic!("not four cells: {row:?}");
        };
        let claims: Vec<&str> = quoted(shown).collect();
        if prevented.is_empty() || remains.is_empty() || claims.is_empty() {
            wrong.push(format!("{hazard}: a cell is empty"));
        }
        wrong.extend(
            claims.into_iter().filter_map(fault).map(|why| format!("{hazard}: {why}")),
        );
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(rows.len() >= 25, "{} hazards", rows.len());
}

#[test]
fn a_test_that_is_not_there_or_not_run_would_be_found() {
    assert!(is_test("    #[test]\n    fn a_law(text in any()) {", "a_law"));
    assert!(is_test("#[test]\n// why\n#[cfg(unix)]\nfn one() {", "one"));
    assert!(!is_test("#[test]\nfn one_more() {", "one"));
    assert!(!is_test("fn one() {", "one"));
    assert!(!is_test("#[test]\n#[ignore = \"slow\"]\nfn one() {", "one"));
    assert!(fault("tests/plan.rs::no_such_test").is_some());
    assert!(fault("tests/no_such_file.rs::no_such_test").is_some());
    assert!(fault("tests/plan.rs").is_some());
}

/// Paths between backticks, from the top or from `src`.
#[test]
fn every_file_that_developers_md_names_is_there() {
    let text = read("DEVELOPERS.md");
    let missing: BTreeSet<&str> = quoted(&text)
        .map(|name| name.split("::").next().unwrap_or(name))
        .filter(|name| {
            let kind = name.rsplit_once('.').map_or("", |(_, kind)| kind);
            ["rs", "py", "typ", "ftl", "txt"].contains(&kind)
                && name.contains('/')
                && !name.contains([' ', '*', '$'])
        })
        .filter(|name| {
            ![root().join(name), root().join("src").join(name)]
                .iter()
                .any(|p| p.is_file())
        })
        .collect();
    assert!(missing.is_empty(), "{missing:?}");
}

#[test]
fn every_direct_dependency_is_explained() {
    let manifest: toml_edit::DocumentMut = read("Cargo.toml").parse().unwrap();
    let names = |section: &toml_edit::Item| -> Vec<String> {
        section.as_table().unwrap().iter().map(|(name, _)| name.to_owned()).collect()
    };
    let wanted: BTreeSet<String> = [
        &manifest["dependencies"],
        &manifest["target"]["cfg(unix)"]["dependencies"],
        &manifest["dev-dependencies"],
    ]
    .into_iter()
    .flat_map(names)
    .collect();
    let rows = table("Dependencies");
    let explained: Vec<String> =
        rows.iter().filter_map(|row| quoted(&row[0]).next()).map(str::to_owned).collect();
    assert!(rows.iter().all(|row| row.len() == 4 && !row[1].is_empty()), "{rows:?}");
    assert_eq!(explained.iter().cloned().collect::<BTreeSet<_>>(), wanted);
    assert_eq!(explained.len(), wanted.len(), "one stands twice");
}

/// A renamed file is not looked for where nobody builds it.
#[test]
fn every_test_file_in_a_folder_is_a_module() {
    let mut files: Vec<PathBuf> = Vec::new();
    for folder in ["tests/runs", "tests/ledger"] {
        let entries = std::fs::read_dir(root().join(folder)).unwrap();
        files.extend(entries.map(|entry| entry.unwrap().path()));
    }
    for file in files {
        let name = file.strip_prefix(root()).unwrap().to_string_lossy().into_owned();
        assert!(is_built(&name), "{name} is in no test");
    }
}
