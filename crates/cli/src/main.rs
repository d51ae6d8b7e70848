//! The `filmgauge` command: hands its arguments to the library and exits with its code.

fn main() -> std::process::ExitCode {
    let exit = filmgauge_cli::run(std::env::args_os(), &mut std::io::stdout(), &mut std::io::stderr());
    std::process::ExitCode::from(exit.code())
}
