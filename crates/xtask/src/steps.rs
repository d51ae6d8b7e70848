//! Steps of a task: each a command with its name, its time and, where it fails, what to do.

use std::path::PathBuf;
use std::process::{Command, ExitStatus};
use std::time::{Duration, Instant};

/// Steps done so far, for the table of times at the end.
#[derive(Default)]
pub(crate) struct Steps {
    done: Vec<(String, Duration, bool)>,
}

impl Steps {
    /// Runs a command with its output on the terminal; an error unless it ends with code 0.
    pub(crate) fn run(&mut self, name: &str, command: &mut Command) -> Result<(), String> {
        self.run_accepting(name, command, &[0])
    }

    /// Runs a command that may end with any of `codes`.
    pub(crate) fn run_accepting(
        &mut self,
        name: &str,
        command: &mut Command,
        codes: &[i32],
    ) -> Result<(), String> {
        println!("\n== {name}");
        let start = Instant::now();
        let status = command.current_dir(root()).status();
        let passed =
            status.as_ref().is_ok_and(|status| status.code().is_some_and(|code| codes.contains(&code)));
        let taken = start.elapsed();
        println!("== {name}: {} in {:.1} s", if passed { "done" } else { "FAILED" }, taken.as_secs_f64());
        self.done.push((name.to_owned(), taken, passed));
        if passed { Ok(()) } else { Err(failure(name, command, status)) }
    }

    /// Prints what each step took.
    pub(crate) fn print_times(&self) {
        if self.done.is_empty() {
            return;
        }
        println!("\nTime by step");
        for (name, taken, passed) in &self.done {
            println!("{:>8.1} s  {name}{}", taken.as_secs_f64(), if *passed { "" } else { "  FAILED" });
        }
        let total: Duration = self.done.iter().map(|(_, taken, _)| *taken).sum();
        println!("{:>8.1} s  in all", total.as_secs_f64());
    }
}

fn failure(name: &str, command: &Command, status: std::io::Result<ExitStatus>) -> String {
    let program = command.get_program().to_string_lossy().into_owned();
    match status {
        Ok(status) => format!("{name} failed: {program} ended with {status}; its own message stands above"),
        Err(error) => format!("{name} failed: {program} does not start ({error}); install it and try again"),
    }
}

/// The cargo that started this program.
pub(crate) fn cargo(arguments: &[&str]) -> Command {
    let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    command.args(arguments);
    command
}

/// The folder of the workspace.
pub(crate) fn root() -> PathBuf {
    let here =
        std::env::var_os("CARGO_MANIFEST_DIR").map_or_else(|| PathBuf::from("crates/xtask"), PathBuf::from);
    here.ancestors().nth(2).map_or_else(|| PathBuf::from("."), PathBuf::from)
}
