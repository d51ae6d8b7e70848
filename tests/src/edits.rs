//! Numbered edits of many kinds, made one after another and told as they are made: what is killed to prove that no work
//! is lost.

use anyhow::{Context, Result};
use filmgauge_daybook::{Edit, PathStep, Pick, Value, Workbook, WorkbookOptions};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{Rng, SeedableRng};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::Write;
use std::path::Path;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

/// The dossier that the edits start from.
pub const START: &str = "# kept by hand\nschema = 1\n[test]\nid = \"K-1\" # short\ntitle = \"begun\"\n\n[[camera]]\nid = \"side\"\nfootage = \"side.avi\"\n";

const LONGEST_RUN: Duration = Duration::from_secs(60);

/// How fast edits follow each other and when files are written.
#[derive(Debug, Clone, Copy)]
pub struct Pace {
    /// Wait between an edit and the writing of its files.
    pub autosave_after: Duration,
    /// Longest pause between two edits; pauses are even between nothing and this.
    pub longest_pause: Duration,
    /// Seed of kinds and pauses.
    pub seed: u64,
}

/// One line of what the editing process tells. A line counts only when it is whole.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Told {
    /// The dossier is open.
    Opened,
    /// The next edit begins.
    Begun,
    /// An edit was made and confirmed.
    Made {
        /// Lines of the day book then.
        n_lines: usize,
        /// When, ms since 1970.
        at_ms: u64,
        /// Fingerprint of dossier and marks then.
        state: u64,
        /// Fingerprint of the dossier's text alone.
        text: u64,
    },
    /// The files were written, with the day book of this many lines.
    Saved(usize),
}

impl Told {
    fn line(&self) -> String {
        match self {
            Self::Opened => "opened".into(),
            Self::Begun => "begun".into(),
            Self::Made { n_lines, at_ms, state, text } => format!("made {n_lines} {at_ms} {state} {text}"),
            Self::Saved(n_lines) => format!("saved {n_lines}"),
        }
    }

    fn read(line: &str) -> Option<Self> {
        let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
        let numbers: Vec<u64> = rest.split_whitespace().filter_map(|number| number.parse().ok()).collect();
        match (word, numbers.as_slice()) {
            ("opened", []) => Some(Self::Opened),
            ("begun", []) => Some(Self::Begun),
            ("made", &[n_lines, at_ms, state, text]) => {
                Some(Self::Made { n_lines: usize::try_from(n_lines).ok()?, at_ms, state, text })
            }
            ("saved", &[n_lines]) => Some(Self::Saved(usize::try_from(n_lines).ok()?)),
            _ => None,
        }
    }
}

/// Every whole line of `log`.
#[must_use]
pub fn told(log: &str) -> Vec<Told> {
    log.split_inclusive('\n').filter_map(|line| Told::read(line.strip_suffix('\n')?)).collect()
}

/// Fingerprint of a text.
#[must_use]
pub fn mark(text: &str) -> u64 {
    let mut hasher = DefaultHasher::new();
    text.hash(&mut hasher);
    hasher.finish()
}

/// Fingerprint of dossier and marks as they stand.
#[must_use]
pub fn state(book: &Workbook) -> u64 {
    mark(&format!("{}{:?}", book.dossier().text, book.picks("side")))
}

/// Opens the dossier in `folder` and edits it until killed, telling every step in `out`; for a minute at most, so that
/// nothing outlives a test that was stopped.
///
/// # Errors
/// When the dossier cannot be opened or written, or the steps cannot be told.
pub fn edit_until_killed(folder: &Path, pace: Pace, out: &mut impl Write) -> Result<()> {
    let options = WorkbookOptions { who: "hand".into(), autosave_after: pace.autosave_after };
    let (mut book, _) = Workbook::open(folder, options).context("the dossier was not opened")?;
    let mut dice = Xoshiro256PlusPlus::seed_from_u64(pace.seed);
    let begun = Instant::now();
    tell(out, &Told::Opened)?;
    while begun.elapsed() < LONGEST_RUN {
        tell(out, &Told::Begun)?;
        one_edit(&mut book, &mut dice)?;
        let at = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        let made = Told::Made {
            n_lines: book.entries().len(),
            at_ms: u64::try_from(at.as_millis()).unwrap_or(u64::MAX),
            state: state(&book),
            text: mark(&book.dossier().text),
        };
        tell(out, &made)?;
        if book.autosave(Instant::now())? {
            tell(out, &Told::Saved(book.entries().len()))?;
        }
        std::thread::sleep(pace.longest_pause.mul_f64(share(&mut dice)));
    }
    Ok(())
}

fn tell(out: &mut impl Write, told: &Told) -> Result<()> {
    writeln!(out, "{}", told.line())?;
    Ok(out.flush()?)
}

/// Even between 0 and 1.
pub fn share(dice: &mut impl Rng) -> f64 {
    f64::from(dice.next_u32()) / f64::from(u32::MAX)
}

fn one_edit(book: &mut Workbook, dice: &mut impl Rng) -> Result<()> {
    let number = book.entries().len();
    let key = |name: &str| PathStep::Key(name.into());
    let title = Edit::Set {
        path: vec![key("test"), key("title")],
        value: Value::from(format!("edit {number} – ü")),
    };
    let comment = "a longer text about the day\n".repeat(1 + number % 40);
    let comment = Edit::Set { path: vec![key("test"), key("comment")], value: Value::from(comment) };
    let body =
        Edit::Append { table: "body".into(), values: vec![("id".into(), Value::from(format!("b{number}")))] };
    let frame = dice.next_u32() % 4;
    let act = format!("edit {number}");
    match dice.next_u32() % 12 {
        0 | 1 => book.apply(&act, &[title])?,
        2 => book.apply(&act, &[comment, body])?,
        3 => book.apply(&act, &[body])?,
        4 if !book.document().body.is_empty() => {
            book.apply(&act, &[Edit::Remove { path: vec![key("body"), PathStep::Item(0)] }])?;
        }
        5 if book.picks("side").iter().any(|pick| pick.frame == frame) => {
            let gone = Edit::RemovePick { camera: "side".into(), frame, target: "C1".into() };
            book.apply(&act, &[gone])?;
        }
        6..8 => drop(book.undo()?),
        8 => drop(book.redo()?),
        _ => book.apply(&act, &[pick(frame, 0.25 + number as f64)])?,
    }
    Ok(())
}

fn pick(frame: u32, x_px: f64) -> Edit {
    let pick = Pick { frame, target: "C1".into(), x_px, y_px: 2.5, sx_px: None, sy_px: None, operator: None };
    Edit::PutPick { camera: "side".into(), pick }
}
