//! Project tasks: set-up, demo, test, accuracy, bench. Uses the standard library only, so that it builds anywhere.
#![expect(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "a command-line program speaks on the terminal"
)]

mod demo;
mod options;
mod packages;
mod steps;
mod tasks;
mod venv;

use options::Task;
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let task = match options::parse(&arguments) {
        Ok(task) => task,
        Err(text) => {
            eprintln!("{text}\n\n{}", options::USAGE);
            return ExitCode::from(2);
        }
    };
    let mut steps = steps::Steps::default();
    let outcome = match task {
        Task::Help => {
            println!("{}", options::USAGE);
            return ExitCode::SUCCESS;
        }
        Task::SetUp => tasks::set_up(&mut steps),
        Task::Demo => demo::run(&mut steps),
        Task::Test => tasks::test(&mut steps),
        Task::Accuracy { section, seeds } => tasks::accuracy(&mut steps, section, seeds),
        Task::Bench => tasks::bench(&mut steps),
        Task::Footage => tasks::footage(&mut steps),
    };
    steps.print_times();
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(text) => {
            eprintln!("\n{text}");
            ExitCode::FAILURE
        }
    }
}
