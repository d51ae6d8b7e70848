//! The tasks made of cargo commands: set-up, test, accuracy, bench.

use crate::packages::{self, Purpose};
use crate::steps::{Steps, cargo};
use crate::venv;

/// Everything that the other tasks need.
pub(crate) fn set_up(steps: &mut Steps) -> Result<(), String> {
    packages::ensure(steps, Purpose::Test)?;
    venv::ensure(steps)
}

/// The whole check, from formatting to documentation. The first step that fails ends it.
pub(crate) fn test(steps: &mut Steps) -> Result<(), String> {
    set_up(steps)?;
    steps.run("format", &mut cargo(&["fmt", "--all", "--check"]))?;
    let lints = ["clippy", "--workspace", "--all-targets", "--", "-D", "warnings"];
    steps.run("lints", &mut cargo(&lints))?;
    steps.run("tests", &mut cargo(&["test", "--workspace"]))?;
    let mut documentation = cargo(&["doc", "--no-deps", "--workspace"]);
    steps.run("documentation", documentation.env("RUSTDOCFLAGS", "-D warnings"))
}

/// Measures rehearsals with known truth and writes the page.
pub(crate) fn accuracy(steps: &mut Steps, section: Option<String>, seeds: Option<u32>) -> Result<(), String> {
    set_up(steps)?;
    let mut command = cargo(&["run", "--release", "--package", "filmgauge-tests", "--bin", "accuracy", "--"]);
    if let Some(section) = section {
        command.args(["--section", &section]);
    }
    if let Some(seeds) = seeds {
        command.args(["--seeds", &seeds.to_string()]);
    }
    steps.run("accuracy", command.args(["--out", "docs/accuracy.md"]))
}

/// Fetches frames of every kind of film out of order, beside peers, and writes the page.
pub(crate) fn footage(steps: &mut Steps) -> Result<(), String> {
    set_up(steps)?;
    let command = ["run", "--release", "--package", "filmgauge-tests", "--bin", "footage", "--"];
    steps.run("footage", cargo(&command).args(["--out", "docs/footage.md"]))
}

/// Measures speed beside its peers and writes the page.
pub(crate) fn bench(steps: &mut Steps) -> Result<(), String> {
    set_up(steps)?;
    let mut command = cargo(&["build", "--release", "--package", "filmgauge-cli"]);
    steps.run("release build", &mut command)?;
    let mut command =
        cargo(&["run", "--release", "--package", "filmgauge-tests", "--bin", "performance", "--"]);
    steps.run("bench", command.args(["--out", "docs/performance.md"]))
}
