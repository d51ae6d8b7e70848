//! Licences: every package that goes into the program may be passed on with it. Read from what cargo knows, without network.

use anyhow::{Context, Result, ensure};
use serde_json::Value;
use std::collections::BTreeMap;
use std::process::Command;

/// Licences by their SPDX identifiers that ask for no more than their text and names to be passed on.
const PERMISSIVE: [&str; 15] = [
    "0BSD",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MIT-0",
    "NCSA",
    "Unicode-3.0",
    "Unlicense",
    "WTFPL",
    "Zlib",
];
/// Of fonts: they may be passed on within a program.
const OF_FONTS: [&str; 2] = ["OFL-1.1", "Ubuntu-font-1.0"];
/// Weak copyleft, which ends at the library's own files: changes to those are passed on, the program's are not asked for.
const OF_LIBRARIES: [&str; 3] = ["LGPL-2.1-or-later", "LGPL-3.0-or-later", "MPL-2.0"];

/// Whether an SPDX expression leaves a choice that may be passed on. The old "/" stands for "OR".
fn may_be_passed_on(expression: &str) -> bool {
    let spaced = expression.replace('(', " ( ").replace(')', " ) ").replace('/', " OR ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut at = 0;
    either(&words, &mut at) && at == words.len()
}

fn either(words: &[&str], at: &mut usize) -> bool {
    let mut is_free = all(words, at);
    while words.get(*at) == Some(&"OR") {
        *at += 1;
        // Both sides are read to their ends.
        is_free |= all(words, at);
    }
    is_free
}

fn all(words: &[&str], at: &mut usize) -> bool {
    let mut is_free = one(words, at);
    while words.get(*at) == Some(&"AND") {
        *at += 1;
        is_free &= one(words, at);
    }
    is_free
}

fn one(words: &[&str], at: &mut usize) -> bool {
    let Some(first) = words.get(*at) else { return false };
    *at += 1;
    if *first == "(" {
        let is_free = either(words, at);
        let is_closed = words.get(*at) == Some(&")");
        *at += 1;
        return is_free && is_closed;
    }
    let mut name = (*first).to_owned();
    if let (Some(&"WITH"), Some(exception)) = (words.get(*at), words.get(*at + 1)) {
        name = format!("{name} WITH {exception}");
        *at += 2;
    }
    [&PERMISSIVE[..], &OF_FONTS, &OF_LIBRARIES].iter().any(|known| known.contains(&name.as_str()))
}

#[test]
fn expressions_are_read_as_spdx_means_them() {
    for (expression, is_free) in [
        ("MIT", true),
        ("MIT/Apache-2.0", true),
        ("GPL-3.0-only", false),
        ("Apache-2.0 OR GPL-2.0-only", true),
        ("MIT AND GPL-2.0-only", false),
        ("(MIT OR Apache-2.0) AND Unicode-3.0", true),
        ("(MIT OR GPL-2.0-only) AND AGPL-3.0-only", false),
        ("Apache-2.0 WITH LLVM-exception", true),
        ("GPL-2.0-only WITH Classpath-exception-2.0", false),
        ("MIT OR (Apache-2.0", false),
        ("", false),
    ] {
        assert_eq!(may_be_passed_on(expression), is_free, "{expression}");
    }
}

#[test]
fn every_package_may_be_passed_on() -> Result<()> {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let host = Command::new(&cargo).args(["-vV"]).output()?;
    let host = String::from_utf8(host.stdout)?;
    let host = host.lines().find_map(|line| line.strip_prefix("host: ")).context("cargo names no host")?;
    let told = Command::new(&cargo)
        .current_dir(super::root())
        .args(["metadata", "--format-version", "1", "--offline", "--locked", "--filter-platform", host])
        .output()?;
    ensure!(told.status.success(), "cargo metadata: {}", String::from_utf8_lossy(&told.stderr));
    let told: Value = serde_json::from_slice(&told.stdout)?;
    let packages = told["packages"].as_array().context("no packages")?;
    let mut licences: BTreeMap<&str, usize> = BTreeMap::new();
    for package in packages {
        let (name, licence) = (&package["name"], package["license"].as_str().unwrap_or_default());
        ensure!(
            may_be_passed_on(licence),
            "{name} is under \"{licence}\"; take another package, or name why it may stay"
        );
        *licences.entry(licence).or_default() += 1;
    }
    ensure!(packages.len() > 100, "only {} packages found", packages.len());
    for (licence, n) in licences {
        println!("{n:4}  {licence}");
    }
    Ok(())
}
