//! Asks a Python script of `tests/reference/` in the reference venv, for pages that are generated.

use anyhow::{Context, Result, ensure};
use serde_json::Value;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

/// The script's answer to `question`.
///
/// # Errors
/// When the venv is missing, or the script fails: its own message.
pub fn ask(script: &str, question: &Value) -> Result<Value> {
    let tests = Path::new(env!("CARGO_MANIFEST_DIR"));
    let made = tests.join("../target/reference-venv/bin/python");
    let interpreter = std::env::var_os("FILMGAUGE_REFERENCE_PYTHON").map_or(made, Into::into);
    let mut child = Command::new(&interpreter)
        .arg(tests.join("reference").join(script))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .context("the reference interpreter is missing; run `cargo xtask setup`")?;
    let sent = child
        .stdin
        .take()
        .context("the script takes no question")?
        .write_all(question.to_string().as_bytes());
    let output = child.wait_with_output()?;
    ensure!(output.status.success(), "{script} failed: {}", String::from_utf8_lossy(&output.stderr));
    sent.with_context(|| format!("{script} did not read its question"))?;
    serde_json::from_slice(&output.stdout).with_context(|| format!("{script} gave no JSON"))
}
