//! The command line: a skin over `dossier::measure` and its neighbours. Reads arguments, shows progress, prints, picks
//! the exit code; computes nothing.

mod args;
mod commands;
mod exit;
mod marked_args;
mod watch;

pub use commands::rehearse::{Rehearsed, rehearse};
pub use exit::Exit;

use clap::Parser;
use std::ffi::OsString;
use std::io::Write;

/// Runs one command line (program name first) and says how it ended. Results go to `out`, trouble to `err`.
pub fn run(
    command_line: impl IntoIterator<Item = OsString>,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Exit {
    let args = match args::Args::try_parse_from(command_line) {
        Ok(args) => args,
        Err(message) => {
            // A closed pipe is no reason to fail: there is nobody left to tell.
            if message.use_stderr() {
                let _ = write!(err, "{}", message.render());
                return Exit::CouldNotRun;
            }
            let _ = write!(out, "{}", message.render());
            return Exit::Done;
        }
    };
    match commands::dispatch(&args, out) {
        Ok(exit) => exit,
        Err(error) => {
            let _ = writeln!(err, "filmgauge: {}", told(&error));
            Exit::CouldNotRun
        }
    }
}

/// The error with its causes. Many errors of the rooms quote their cause already; nothing is said twice.
fn told(error: &anyhow::Error) -> String {
    let mut text = error.to_string();
    for cause in error.chain().skip(1).map(ToString::to_string) {
        if !text.contains(&cause) {
            text = format!("{text}: {cause}");
        }
    }
    text
}
