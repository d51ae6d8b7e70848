//! What can be typed after `cargo xtask`.

/// Shown on request and after a mistake.
pub(crate) const USAGE: &str = "\
cargo xtask TASK

  setup                installs what is missing (Debian: with apt-get) and makes the reference venv
  demo                 builds Filmgauge, measures sample-frames/hatchback and says where the sheet is
  test                 set-up, then formatting, lints, all tests and documentation; times for each step
  accuracy [--section NAME] [--seeds N]
                       measures rehearsals with known truth and writes docs/accuracy.md, or one section of it
  footage              fetches frames out of order beside OpenCV and PyAV and writes docs/footage.md
  bench                measures speed beside its peers and writes docs/performance.md
  help                 this text";

/// A task with its options.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Task {
    Help,
    SetUp,
    Demo,
    Test,
    Accuracy { section: Option<String>, seeds: Option<u32> },
    Bench,
    Footage,
}

/// The task that was typed; the mistake in words otherwise.
pub(crate) fn parse(arguments: &[String]) -> Result<Task, String> {
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words.as_slice() {
        [] | ["help" | "-h" | "--help"] => Ok(Task::Help),
        ["setup"] => Ok(Task::SetUp),
        ["demo"] => Ok(Task::Demo),
        ["test"] => Ok(Task::Test),
        ["bench"] => Ok(Task::Bench),
        ["footage"] => Ok(Task::Footage),
        ["accuracy", options @ ..] => accuracy(options),
        [task @ ("setup" | "demo" | "test" | "bench" | "footage"), option, ..] => {
            Err(format!("{task} does not know \"{option}\""))
        }
        [other, ..] => Err(format!("there is no task \"{other}\"")),
    }
}

fn accuracy(options: &[&str]) -> Result<Task, String> {
    let (mut section, mut seeds) = (None, None);
    for pair in options.chunks(2) {
        match pair {
            ["--section", name] => section = Some((*name).to_owned()),
            ["--seeds", number] => match number.parse() {
                Ok(number @ 1..=100_000) => seeds = Some(number),
                _ => return Err(format!("--seeds takes a number from 1 to 100000, not \"{number}\"")),
            },
            ["--seeds"] => return Err("--seeds takes a number from 1 to 100000".to_owned()),
            ["--section"] => return Err("--section takes the name of a section".to_owned()),
            [option, ..] => return Err(format!("accuracy does not know \"{option}\"")),
            [] => {}
        }
    }
    Ok(Task::Accuracy { section, seeds })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(text: &str) -> Result<Task, String> {
        parse(&text.split_whitespace().map(str::to_owned).collect::<Vec<_>>())
    }

    #[test]
    fn tasks_are_read() {
        assert_eq!(typed(""), Ok(Task::Help));
        assert_eq!(typed("test"), Ok(Task::Test));
        assert_eq!(typed("accuracy"), Ok(Task::Accuracy { section: None, seeds: None }));
        let section = Some("clocks".to_owned());
        assert_eq!(
            typed("accuracy --section clocks --seeds 40"),
            Ok(Task::Accuracy { section, seeds: Some(40) })
        );
    }

    #[test]
    fn mistakes_are_named() {
        for (text, part) in [
            ("tset", "no task \"tset\""),
            ("test --fast", "\"--fast\""),
            ("accuracy --seeds", "takes a number"),
            ("accuracy --seeds 0", "not \"0\""),
            ("demo now", "\"now\""),
        ] {
            assert!(typed(text).is_err_and(|error| error.contains(part)), "{text}");
        }
    }
}
