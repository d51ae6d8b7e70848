//! The command line as a process of its own, for what only happens to processes: a Ctrl-C.

fn main() -> std::process::ExitCode {
    let exit = filmgauge_cli::run(std::env::args_os(), &mut std::io::stdout(), &mut std::io::stderr());
    std::process::ExitCode::from(exit.code())
}
