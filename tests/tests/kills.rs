//! A process that edits a dossier is killed at random moments. After each kill the dossier opens, every edit that was
//! confirmed is there (so nothing older than the longest wait of two seconds can be lost), the files on disk are whole
//! and no older than the last save, and undo and redo reach both ends.

use anyhow::{Context, Result, bail, ensure};
use filmgauge_daybook::{Workbook, WorkbookOptions};
use filmgauge_tests::edits::{START, Told, mark, share, state, told};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use rayon::prelude::*;
use std::fs::{self, File};
use std::path::Path;
use std::process::{Child, Command};
use std::time::Duration;

/// How a dossier is edited and killed.
struct Plan {
    dossiers: u64,
    kills_of_each: usize,
    autosave_after: Duration,
    longest_pause: Duration,
    /// Longest life of a process after it has opened its dossier; lives are even between nothing and this.
    longest_life: Duration,
}

/// What the kills met.
#[derive(Debug, Default)]
struct Met {
    kills: usize,
    confirmed: usize,
    unconfirmed_kept: usize,
    files_behind: usize,
    torn_lines: usize,
}

/// Time is compressed: files follow an edit after 20 ms instead of 1 s, so that a tenth of a second holds what takes a
/// hand several seconds.
#[test]
fn two_hundred_kills_lose_nothing() -> Result<()> {
    let plan = Plan {
        dossiers: 50,
        kills_of_each: 4,
        autosave_after: Duration::from_millis(20),
        longest_pause: Duration::from_millis(6),
        longest_life: Duration::from_millis(120),
    };
    let met = run(&plan)?;
    println!("files written after {:?}: {met:?}", plan.autosave_after);
    ensure!(met.kills == 200 && met.confirmed > 200, "{met:?}");
    ensure!(met.files_behind > 0, "no kill came between day book and files: {met:?}");
    Ok(())
}

#[test]
fn ten_kills_at_the_true_pace_lose_nothing() -> Result<()> {
    let plan = Plan {
        dossiers: 5,
        kills_of_each: 2,
        autosave_after: WorkbookOptions::default().autosave_after,
        longest_pause: Duration::from_millis(150),
        longest_life: Duration::from_secs(3),
    };
    ensure!(plan.autosave_after <= Duration::from_secs(2));
    let met = run(&plan)?;
    println!("files written after {:?}: {met:?}", plan.autosave_after);
    ensure!(met.kills == 10, "{met:?}");
    Ok(())
}

fn run(plan: &Plan) -> Result<Met> {
    let threads = rayon::ThreadPoolBuilder::new().num_threads(5).build()?;
    let each = |n: u64| kill_again_and_again(plan, n).with_context(|| format!("dossier {n}"));
    let all: Vec<Met> =
        threads.install(|| (0..plan.dossiers).into_par_iter().map(each).collect::<Result<_>>())?;
    Ok(all.into_iter().fold(Met::default(), |sum, one| Met {
        kills: sum.kills + one.kills,
        confirmed: sum.confirmed + one.confirmed,
        unconfirmed_kept: sum.unconfirmed_kept + one.unconfirmed_kept,
        files_behind: sum.files_behind + one.files_behind,
        torn_lines: sum.torn_lines + one.torn_lines,
    }))
}

fn kill_again_and_again(plan: &Plan, dossier: u64) -> Result<Met> {
    let dir = tempfile::tempdir()?;
    let folder = dir.path().join("test");
    fs::create_dir(&folder)?;
    fs::write(folder.join("dossier.toml"), START)?;
    let mut dice = Xoshiro256PlusPlus::seed_from_u64(dossier);
    let mut met = Met::default();
    for kill in 0..plan.kills_of_each {
        let log = dir.path().join("told.txt");
        let seed = 1000 * dossier + u64::try_from(kill)?;
        let editor = Editor::start(&folder, plan, seed, &log)?;
        // One in four is killed while it opens.
        if share(&mut dice) > 0.25 {
            editor.wait_until_open(&log)?;
        }
        std::thread::sleep(plan.longest_life.mul_f64(share(&mut dice)));
        drop(editor);
        let log = fs::read_to_string(&log)?;
        check(&folder, &told(&log), &mut met).with_context(|| format!("kill {kill}, told:\n{log}"))?;
        met.kills += 1;
    }
    Ok(met)
}

/// An editing process; dropping it kills it without warning.
struct Editor(Child);

impl Editor {
    fn start(folder: &Path, plan: &Plan, seed: u64, log: &Path) -> Result<Self> {
        let numbers = [plan.autosave_after.as_millis(), plan.longest_pause.as_millis(), seed.into()];
        let child = Command::new(env!("CARGO_BIN_EXE_edits"))
            .arg(folder)
            .args(numbers.map(|number| number.to_string()))
            .stdout(File::create(log)?)
            .spawn()?;
        Ok(Self(child))
    }

    fn wait_until_open(&self, log: &Path) -> Result<()> {
        for _ in 0..30_000 {
            if fs::metadata(log)?.len() > 0 {
                return Ok(());
            }
            std::thread::sleep(Duration::from_millis(1));
        }
        bail!("the editing process does not open its dossier")
    }
}

impl Drop for Editor {
    fn drop(&mut self) {
        // SIGKILL on Unix. One that has ended already has told why; the checks see that it told nothing more.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn check(folder: &Path, told: &[Told], met: &mut Met) -> Result<()> {
    files_are_whole_and_no_older_than_saved(folder, told)?;
    let (mut book, notes) = Workbook::open(folder, WorkbookOptions::default())?;
    ensure!(book.read_only().is_none(), "the lock outlived its process: {:?}", book.read_only());
    for note in notes.iter().map(|note| note.text.as_str()) {
        met.files_behind += usize::from(note.contains("behind the day book"));
        met.torn_lines += usize::from(note.contains("cut short"));
        ensure!(note.contains("behind the day book") || note.contains("cut short"), "{note}");
    }
    ensure!(!book.entries().iter().any(|entry| entry.outside), "a kill looks like another program");
    let mut made = told.iter().filter_map(|told| match told {
        Told::Made { n_lines, state, .. } => Some((*n_lines, *state)),
        _ => None,
    });
    let n_lines = book.entries().len();
    met.confirmed += made.clone().count();
    if let Some((confirmed, as_told)) = made.next_back() {
        ensure!(n_lines >= confirmed, "{confirmed} lines were confirmed, {n_lines} are there");
        ensure!(n_lines <= confirmed + 1, "{n_lines} lines, {confirmed} confirmed: out of nowhere");
        ensure!(n_lines > confirmed || state(&book) == as_told, "the state differs from the one confirmed");
        met.unconfirmed_kept += n_lines - confirmed;
    }
    both_ends_are_reached(&mut book)?;
    book.save()?;
    Ok(())
}

/// The dossier on disk reads as it is, and its text is one that stood at the last save or later.
fn files_are_whole_and_no_older_than_saved(folder: &Path, told: &[Told]) -> Result<()> {
    let text = fs::read_to_string(folder.join("dossier.toml"))?;
    filmgauge_dossier::Dossier::read(folder)?;
    let Some(saved) = told.iter().rposition(|told| matches!(told, Told::Saved(_))) else { return Ok(()) };
    // The edit that the save wrote was told right before it; later ones may have been saved without a word.
    let since = &told[saved.saturating_sub(1)..];
    let is_known =
        since.iter().any(|told| matches!(told, Told::Made { text: known, .. } if *known == mark(&text)));
    ensure!(is_known, "dossier.toml on disk is older than the last save");
    Ok(())
}

fn both_ends_are_reached(book: &mut Workbook) -> Result<()> {
    let as_found = state(book);
    let mut redone = 0;
    while book.redo()?.is_some() {
        redone += 1;
    }
    let newest = state(book);
    while book.undo()?.is_some() {}
    ensure!(
        book.dossier().text == START && book.picks("side").is_empty(),
        "undo does not reach the beginning"
    );
    while book.redo()?.is_some() {}
    ensure!(state(book) == newest, "redo does not reach the end");
    for _ in 0..redone {
        book.undo()?;
    }
    ensure!(state(book) == as_found, "undo does not come back to where it was");
    Ok(())
}
