//! What must be installed: FFmpeg's libraries and headers, a C compiler, and for the tests ffmpeg and Python.

use crate::steps::Steps;
use std::path::Path;
use std::process::{Command, Stdio};

/// Debian packages to build with: FFmpeg's headers, and the compiler that reads them.
const TO_BUILD: [&str; 8] = [
    "gcc",
    "libc6-dev",
    "pkg-config",
    "clang",
    "libclang-dev",
    "libavcodec-dev",
    "libavformat-dev",
    "libavutil-dev",
];

/// Debian packages that only the tests need; the desk is drawn by Mesa's software adapter.
const TO_TEST: [&str; 4] = ["ffmpeg", "mesa-vulkan-drivers", "opencv-doc", "python3-venv"];

/// What the machine is prepared for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Purpose {
    Build,
    Test,
}

/// Makes sure that everything is there. On Debian and its relatives what is missing is installed;
/// elsewhere the run stops with the list.
pub(crate) fn ensure(steps: &mut Steps, purpose: Purpose) -> Result<(), String> {
    let wanted = wanted(purpose);
    if !is_debian() {
        return if all_tools_work(purpose) { Ok(()) } else { Err(by_hand(&wanted)) };
    }
    let missing: Vec<&str> = wanted.into_iter().filter(|package| !is_installed(package)).collect();
    if missing.is_empty() {
        return Ok(());
    }
    println!("Missing packages: {}", missing.join(" "));
    steps.run("package lists", &mut apt_get(&["update"])?)?;
    let install = [&["install", "--yes", "--no-install-recommends"], missing.as_slice()].concat();
    steps.run("packages", &mut apt_get(&install)?)
}

fn wanted(purpose: Purpose) -> Vec<&'static str> {
    let mut wanted = TO_BUILD.to_vec();
    if purpose == Purpose::Test {
        wanted.extend(TO_TEST);
    }
    wanted
}

fn is_debian() -> bool {
    Path::new("/etc/debian_version").exists() && works("dpkg-query", &["--version"])
}

fn is_installed(package: &str) -> bool {
    let status = Command::new("dpkg-query").args(["-W", "-f", "${db:Status-Abbrev}", package]).output();
    status.is_ok_and(|output| output.stdout.starts_with(b"ii"))
}

fn apt_get(arguments: &[&str]) -> Result<Command, String> {
    let user =
        Command::new("id").arg("-u").output().map_err(|error| format!("id does not start: {error}"))?;
    let is_root = String::from_utf8_lossy(&user.stdout).trim() == "0";
    if !is_root && !works("sudo", &["--version"]) {
        return Err(format!(
            "packages must be installed by the administrator: apt-get {}",
            arguments.join(" ")
        ));
    }
    let mut command = Command::new(if is_root { "apt-get" } else { "sudo" });
    if !is_root {
        command.arg("apt-get");
    }
    command.args(arguments).env("DEBIAN_FRONTEND", "noninteractive");
    Ok(command)
}

fn all_tools_work(purpose: Purpose) -> bool {
    let builds = works("pkg-config", &["--exists", "libavcodec", "libavformat", "libavutil"])
        && works("clang", &["--version"]);
    builds && (purpose == Purpose::Build || works("ffmpeg", &["-version"]))
}

fn by_hand(wanted: &[&str]) -> String {
    format!(
        "This system is not Debian or a relative of it. Install what these Debian packages hold, then try again:\n  {}\n\
         (FFmpeg 5.1 or later with headers for libavcodec, libavformat and libavutil; clang with libclang; pkg-config; \
         for the tests also the ffmpeg command and Python 3.11 or later with venv)",
        wanted.join(" ")
    )
}

/// Whether a program starts and ends well.
pub(crate) fn works(program: &str, arguments: &[&str]) -> bool {
    let status = Command::new(program).args(arguments).stdout(Stdio::null()).stderr(Stdio::null()).status();
    status.is_ok_and(|status| status.success())
}
