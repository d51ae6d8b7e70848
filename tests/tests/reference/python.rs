//! Asks a Python script of `tests/reference/` a question as JSON and reads its answer.

use anyhow::{Context, Result, bail};
use serde_json::Value;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Names the interpreter to use instead of the one that the set-up makes.
const INTERPRETER_VARIABLE: &str = "FILMGAUGE_REFERENCE_PYTHON";

/// The script's answer to `question`.
pub(crate) fn ask(script: &str, question: &Value) -> Result<Value> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference").join(script);
    let mut child = Command::new(interpreter()?)
        .arg(&path)
        // Cheap and the same on every machine: one thread for linear algebra.
        .env("OPENBLAS_NUM_THREADS", "1")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .with_context(|| format!("{script} does not start"))?;
    let mut stdin = child.stdin.take().context("the script takes no question")?;
    // A script that stops early closes its end; its own message says why.
    let sent = stdin.write_all(question.to_string().as_bytes());
    drop(stdin);
    let output = child.wait_with_output()?;
    if !output.status.success() {
        bail!("{script} failed: {}", String::from_utf8_lossy(&output.stderr));
    }
    sent.with_context(|| format!("{script} did not read its question"))?;
    serde_json::from_slice(&output.stdout).with_context(|| format!("{script} gave no JSON"))
}

/// A list of numbers of an answer.
pub(crate) fn numbers(answer: &Value, key: &str) -> Result<Vec<f64>> {
    serde_json::from_value(answer[key].clone()).with_context(|| format!("'{key}' is no list of numbers"))
}

/// Rows of numbers of an answer.
pub(crate) fn rows(answer: &Value, key: &str) -> Result<Vec<Vec<f64>>> {
    serde_json::from_value(answer[key].clone()).with_context(|| format!("'{key}' is no list of rows"))
}

/// One number of an answer.
pub(crate) fn number(answer: &Value, key: &str) -> Result<f64> {
    answer[key].as_f64().with_context(|| format!("'{key}' is no number"))
}

/// Greatest difference between two lists of the same length.
pub(crate) fn greatest_difference(ours: &[f64], theirs: &[f64]) -> Result<f64> {
    if ours.len() != theirs.len() || ours.is_empty() {
        bail!("{} numbers against {}", ours.len(), theirs.len());
    }
    Ok(ours.iter().zip(theirs).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max))
}

fn interpreter() -> Result<PathBuf> {
    if let Some(chosen) = std::env::var_os(INTERPRETER_VARIABLE) {
        return Ok(PathBuf::from(chosen));
    }
    let inside = if cfg!(windows) { "Scripts/python.exe" } else { "bin/python" };
    let made = Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/reference-venv").join(inside);
    if !made.exists() {
        bail!("the reference interpreter is missing; run `cargo xtask test`, which makes the reference venv");
    }
    Ok(made)
}
