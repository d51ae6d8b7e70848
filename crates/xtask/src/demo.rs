//! The demo: the committed sample is measured, and the way to its sheet is shown.

use crate::packages::{Purpose, ensure};
use crate::steps::{Steps, cargo, root};

/// Dossier of the sample.
const SAMPLE: &str = "sample-frames/hatchback";
/// Where results go; made anew each time.
const RESULTS: &str = "target/demo";

/// Builds the program, measures the sample and says where the sheet is.
pub(crate) fn run(steps: &mut Steps) -> Result<(), String> {
    ensure(steps, Purpose::Build)?;
    let results = root().join(RESULTS);
    if results.exists() {
        std::fs::remove_dir_all(&results)
            .map_err(|error| format!("{RESULTS}: cannot be cleared ({error}); close programs that use it"))?;
    }
    let build = ["build", "--release", "--package", "filmgauge-cli"];
    steps.run("build", &mut cargo(&build))?;
    // Code 1 says that something needs a person's eye: the sample holds a planted sensor fault, so it is expected.
    let program = ["run", "--release", "--quiet", "--package", "filmgauge-cli", "--"];
    let measure = [&program[..], &["measure", SAMPLE, "--out", RESULTS]].concat();
    steps.run_accepting("measure", &mut cargo(&measure), &[0, 1])?;
    let sheet = results.join("sheet.html");
    if !sheet.exists() {
        return Err(format!("{RESULTS}/sheet.html was not written, although the measurement ended well"));
    }
    println!("\nThe sheet: {}", sheet.display());
    println!("All results: {}", results.display());
    Ok(())
}
